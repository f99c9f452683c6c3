#!/usr/bin/env bash
# Installs the package into a fresh Debian without a registry or an engine, serves the shipped bench there as an ordinary
# user on a root that nobody can write to, polls it from outside, stops it, removes the package and looks for what is left.
#
#   docker/package/try.sh PACKAGE.deb [RELEASE]      as root, with debootstrap; RELEASE: bookworm, trixie
#
# The base is kept in build/container (or $EMBERLINE_CONTAINER). Exit status: 0 all as it should be, 1 not, 3 the
# surroundings do not allow it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

say() { printf 'package: %s\n' "$*"; }
fail() { printf 'package: %s\n' "$*" >&2; exit 1; }

[ $# -ge 1 ] && [ -f "$1" ] || { echo "package: expected the .deb that cpack has made" >&2; exit 3; }
[ "$(id -u)" = 0 ] || { echo "package: left out, a chroot needs root" >&2; exit 3; }
for tool in debootstrap unshare nsenter setpriv python3; do
  command -v "$tool" > /dev/null || { echo "package: left out, $tool is missing" >&2; exit 3; }
done
deb=$(realpath "$1")
release=${2:-bookworm}
work=${EMBERLINE_CONTAINER:-$PWD/build/container}
base=$work/$release
root=$work/package-root
bash docker/container/base.sh "$work" "$release" || exit 3

pid=""
clean_up() {
  [ -z "$pid" ] || kill -KILL "$pid" 2> /dev/null || true
  for place in proc dev/pts tmp run ""; do mountpoint -q "$root/$place" && umount -l "$root/$place"; done
  rm -rf "$root"
}
trap clean_up EXIT
clean_up
cp -a "$base" "$root"
rm "$root/etc/dpkg/dpkg.cfg.d/slim"  # manual pages are wanted here
mount --bind "$root" "$root"
mount -t proc proc "$root/proc"
mount -t devpts -o newinstance,ptmxmode=0666,mode=0620 devpts "$root/dev/pts"
ln -sf pts/ptmx "$root/dev/ptmx"
cp /etc/resolv.conf "$root/etc/resolv.conf" 2> /dev/null || true
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C DEBIAN_FRONTEND=noninteractive "$@"; }

inside apt-get update > "$work/apt.log" 2>&1 || { tail -n 3 "$work/apt.log" >&2; exit 3; }
files() { (cd "$root" && find . -xdev \( -path ./proc -o -path ./var/lib/dpkg -o -path ./var/lib/apt -o -path ./var/cache -o -path ./var/log -o -path ./tmp \) -prune -o -print | sort); }

cp "$deb" "$root/tmp/emberline.deb"
depends=$(dpkg-deb -f "$deb" Depends | sed 's/([^)]*)//g; s/,/ /g')
# shellcheck disable=SC2086  # one word a package
inside apt-get install -y --no-install-recommends $depends >> "$work/apt.log" 2>&1 || { tail -n 3 "$work/apt.log" >&2; fail "what it depends on cannot be installed"; }
# Who stands in for systemd here writes down what it is told; somebody has had a service started with the machine.
mkdir -p "$root/run/systemd/system" "$root/etc/systemd/system/multi-user.target.wants" "$root/etc/emberline"
printf '#!/bin/sh\necho "$@" >> /var/log/systemctl\n' > "$root/usr/bin/systemctl"
chmod 755 "$root/usr/bin/systemctl"
told() { grep -Fqx -- "$1" "$root/var/log/systemctl" || fail "systemd was not told: $1"; }
files > "$work/before"
inside apt-get install -y --no-install-recommends /tmp/emberline.deb >> "$work/apt.log" 2>&1 || { tail -n 5 "$work/apt.log" >&2; fail "it does not install"; }
say "installed on $release: $(inside dpkg-query -W -f '${Version}, ${Installed-Size} kB' emberline)"
inside emberline check /usr/share/emberline/config/benches/annealing-lehr.yaml > /dev/null || fail "the shipped bench is not good"
told daemon-reload
ln -s /lib/systemd/system/emberline@.service "$root/etc/systemd/system/multi-user.target.wants/emberline@lehr.service"
for file in share/man/man1/emberline.1.gz share/bash-completion/completions/emberline share/zsh/vendor-completions/_emberline \
            share/fish/vendor_completions.d/emberline.fish lib/systemd/system/emberline@.service share/emberline/sbom.spdx.json \
            share/doc/emberline/copyright share/doc/emberline/README.md share/emberline/docker/compose.yaml share/doc/emberline/examples/config/benches/annealing-lehr.yaml; do
  [ -s "$root/usr/$file" ] || fail "there is no /usr/$file"
done
for name in CLI11 spdlog yaml-cpp; do
  grep -q "^$name, " "$root/usr/share/doc/emberline/copyright" || fail "the copyright file has no word of $name"
done
zcat "$root/usr/share/man/man1/emberline.1.gz" | grep -q '^\.TH' || fail "the manual page is none"

# Read-only but for two folders, an ordinary user, no capability.
mount -t tmpfs -o mode=1777 tmpfs "$root/tmp"
mount -t tmpfs -o mode=1777 tmpfs "$root/run"
mount -o remount,bind,ro "$root"
unshare --net sh -c 'ip link set lo up 2> /dev/null; exec "$@"' sh \
  chroot "$root" env -i PATH=/usr/bin:/bin HOME=/tmp \
  setpriv --reuid 10001 --regid 10001 --clear-groups --no-new-privs --inh-caps=-all --bounding-set=-all \
  emberline serve /usr/share/emberline/config/benches/annealing-lehr.yaml --control /run/control.sock \
  --ready-file /run/ready.json --panel off > "$work/serve.log" 2>&1 &
pid=$!
for _ in $(seq 200); do
  [ -f "$root/run/ready.json" ] && break
  kill -0 "$pid" 2> /dev/null || { cat "$work/serve.log" >&2; fail "serve has ended"; }
  sleep 0.05
done
[ -f "$root/run/ready.json" ] || fail "serve is not ready after ten seconds"
chroot --userspec=10001:10001 "$root" emberline tell --ping /run/control.sock > /dev/null || fail "it is not healthy"
[ "$(ps -o uid= -p "$pid" | tr -d ' ')" = 10001 ] || fail "it runs as root"
[ "$(grep -c '^Cap...:[[:space:]]*0*$' "/proc/$pid/status")" = 5 ] || fail "it has capabilities"

# From outside the chroot, by a program that is not ours.
nsenter --target "$pid" --net python3 - <<'PY' || fail "no good answer over TCP from outside"
import socket
s = socket.create_connection(("127.0.0.1", 1502), 5)
s.sendall(bytes.fromhex("000100000006010300410001"))  # state of unit 1: one holding register at 0x0041
answer = s.recv(64)
assert answer[:9] == bytes.fromhex("000100000005010302"), answer.hex()
PY
started=$(date +%s%N)
kill -TERM "$pid"
wait "$pid" || fail "it stopped with another status than 0"
pid=""
took=$((($(date +%s%N) - started) / 1000000))
say "healthy, answers from outside, runs as 10001 without capabilities on a read-only root, stops in $took ms"
[ "$took" -le 1000 ] || fail "it took longer than a second to stop"

mount -o remount,bind,rw "$root"
umount "$root/tmp" "$root/run"
inside apt-get purge -y emberline >> "$work/apt.log" 2>&1 || fail "it cannot be removed"
rm -f "$root/tmp/emberline.deb"
told "stop emberline@*.service"
files > "$work/after"
diff "$work/before" "$work/after" > "$work/left" || { cat "$work/left" >&2; fail "the lines above are what removing it has left or taken"; }
say "removed, nothing left"
