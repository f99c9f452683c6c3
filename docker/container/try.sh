#!/usr/bin/env bash
# Builds the image of docker/Dockerfile without a registry and without an engine, and tries what it promises: on a root
# that nobody can write to, as an ordinary user without capabilities, it becomes healthy, answers a master outside, and
# stops at once when told to.
#
#   docker/container/try.sh [--release RELEASE] [--again] [--deb PACKAGE.deb | --ccache FOLDER] [--master PROGRAM]
#
#   --release   of Debian: bookworm (as the Dockerfile has it), trixie
#   --again     try the image that the last run has left, and build nothing
#   --deb       a package of the same sources and release, instead of what the first stage would make in minutes
#   --ccache    what a compiler has compiled before, for the first stage
#   --master    the emberline that asks from outside; build/emberline
#
# As root, with debootstrap and buildah; everything is kept in build/container (or $EMBERLINE_CONTAINER). Exit status: 0
# all as it should be, 1 not, 3 the surroundings do not allow it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
export LC_ALL=C

say() { printf 'container: %s\n' "$*"; }
fail() { printf 'container: %s\n' "$*" >&2; exit 1; }
cannot() { printf 'container: left out, %s\n' "$*" >&2; exit 3; }

release=bookworm again=no ccache="" deb="" master=build/emberline
while [ $# -gt 0 ]; do
  case "$1" in
    --again) again=yes; shift; continue ;;
    --release) release=${2:?} ;;
    --deb) deb=$(realpath "${2:?}") ;;
    --ccache) ccache=$(realpath "${2:?}") ;;
    --master) master=${2:?} ;;
    *) printf 'container: "%s" is not known; the first lines of this script say what is\n' "$1" >&2; exit 2 ;;
  esac
  shift 2
done
[ "$(id -u)" = 0 ] || cannot "a root of its own needs root"
for tool in buildah debootstrap unshare setpriv nsenter ip python3; do
  command -v "$tool" > /dev/null || cannot "$tool is missing"
done
[ -x "$master" ] || cannot "there is no $master to ask from outside; build it, or name one with --master"

work=${EMBERLINE_CONTAINER:-$PWD/build/container}
image=localhost/emberline:$release
mkdir -p "$work"
driver=overlay
grep -q overlay /proc/filesystems || driver=vfs
buildah() { command buildah --storage-driver "$driver" --root "$work/storage" --runroot "$work/run" "$@"; }

build() {
  local container root extra=() context=. file=docker/Dockerfile
  bash docker/container/base.sh "$work" "$release" || exit 3
  if ! buildah inspect --type image "localhost/debian:$release-slim" > /dev/null 2>&1; then
    container=$(buildah from scratch)
    root=$(buildah mount "$container")
    cp -a "$work/$release/." "$root/"
    buildah umount "$container" > /dev/null
    buildah commit --quiet --rm "$container" "localhost/debian:$release-slim" > /dev/null
  fi
  [ -z "$ccache" ] || extra=(--volume "$ccache:/root/.cache/ccache")
  if [ -n "$deb" ]; then
    context=$work/context file=$work/context/Dockerfile
    mkdir -p "$context/made"
    cp "$deb" "$context/made/emberline.deb"
    sed 's/127\.0\.0\.1:1502/0.0.0.0:1502/; s|/tmp/emberline/|/run/emberline/|' config/benches/annealing-lehr.yaml > "$context/made/container.yaml"
    { sed -n '1,/^FROM/p' docker/Dockerfile; echo "COPY made /made"; sed '1,/^FROM/d' docker/Dockerfile | sed -n '/^FROM/,$p'; } > "$file"
  fi
  # As written: the Dockerfile of whoever has an engine, only that its FROM is the base just made.
  BUILDAH_ISOLATION=chroot buildah bud --pull-never --format docker --build-arg "DEBIAN=$release" "${extra[@]}" \
    --file "$file" --tag "$image" "$context" > "$work/build.log" 2>&1 || { tail -n 30 "$work/build.log" >&2; fail "the image does not build"; }
}

if [ "$again" = no ]; then
  started=$SECONDS
  build
  say "built from a base of our own, Debian $release, in $((SECONDS - started)) s"
fi
buildah inspect --type image "$image" > "$work/image.json" 2> /dev/null || cannot "there is no image of a run before this one"

# of KEY: what the image says, one word a line.
of() {
  python3 - "$work/image.json" "$1" <<'PY'
import json, sys
said = json.load(open(sys.argv[1]))["Docker"]["config"].get(sys.argv[2]) or []
if isinstance(said, dict):
    said = said["Test"]
    assert said[0] == "CMD", said
    said = said[1:]
print("\n".join([said] if isinstance(said, str) else said))
PY
}
mapfile -t entry < <(of Entrypoint; of Cmd)
mapfile -t health < <(of Healthcheck)
user=$(of User) folder=$(of WorkingDir)
[ "${#health[@]}" -gt 1 ] || fail "the image does not say how to see whether it is healthy"
[[ "$user" =~ ^[0-9]+$ ]] && [ "$user" != 0 ] || fail "the image runs as \"$user\"; expected the number of an ordinary user"

container="" pid="" link=emb$$
clean_up() {
  [ -z "$pid" ] || kill -KILL "$pid" 2> /dev/null || true
  ip link del "$link" 2> /dev/null || true
  [ -z "$container" ] || { buildah umount "$container" && buildah rm "$container"; } > /dev/null 2>&1 || true
}
trap clean_up EXIT
container=$(buildah from --pull-never "$image")
root=$(buildah mount "$container")
size() { du -sxm "$1" | cut -f1; }
say "size: $(size "$root") MB, of which the base has $(size "$work/$release") MB"

# What an engine does: processes, network and mounts of its own, the root read-only, /run/emberline alone to write to,
# no capability, no way to get one, and the command of the image as the first process.
cat > "$work/inside.sh" <<'INSIDE'
set -eu
root=$1 user=$2 folder=$3
shift 3
mount --make-rprivate /
mount --bind "$root" "$root"
mount -t proc proc "$root/proc"
mount -t tmpfs -o mode=0755 tmpfs "$root/dev"
mkdir "$root/dev/pts"
mount -t devpts -o newinstance,ptmxmode=0666,mode=0620 devpts "$root/dev/pts"
ln -s pts/ptmx "$root/dev/ptmx"
for device in null zero random urandom; do touch "$root/dev/$device"; mount --bind "/dev/$device" "$root/dev/$device"; done
mount -t tmpfs -o "uid=$user,mode=0700" tmpfs "$root/run/emberline"
mount -o remount,bind,ro "$root"
ip link set lo up
cd "$root$folder"
exec chroot "$root" /usr/bin/env -i -C "$folder" PATH=/usr/local/bin:/usr/bin:/bin \
  /usr/bin/setpriv --reuid "$user" --regid "$user" --clear-groups --inh-caps=-all --bounding-set=-all --no-new-privs "$@"
INSIDE
unshare --mount --pid --net --ipc --uts --fork --kill-child \
  bash "$work/inside.sh" "$root" "$user" "$folder" "${entry[@]}" > "$work/serve.log" 2>&1 &
outer=$!
for _ in $(seq 200); do
  pid=$(ps -o pid= --ppid "$outer" | tr -d ' ' || true)
  if [ -n "$pid" ] && [ "$(cat "/proc/$pid/comm" 2> /dev/null)" = emberline ]; then break; fi
  kill -0 "$outer" 2> /dev/null || { cat "$work/serve.log" >&2; fail "it has ended"; }
  sleep 0.05
done
[ -n "$pid" ] || fail "it does not start"

begun=$(date +%s%N)
healthy=no
for _ in $(seq 200); do
  if nsenter --target "$pid" --mount --pid --root --wd="$root" setpriv --reuid "$user" --regid "$user" --clear-groups "${health[@]}" > "$work/health.log" 2>&1; then
    healthy=yes
    break
  fi
  kill -0 "$pid" 2> /dev/null || break
  sleep 0.05
done
[ "$healthy" = yes ] || { cat "$work/serve.log" "$work/health.log" >&2; fail "it does not become healthy"; }
say "healthy $((($(date +%s%N) - begun) / 1000000)) ms after it was first asked"

status() { sed -n "s/^$1:[[:space:]]*//p" "/proc/$pid/status"; }
[ "$(status Uid | cut -f1)" = "$user" ] || fail "it runs as $(status Uid)"
for set in CapInh CapPrm CapEff CapBnd CapAmb; do
  [[ "$(status $set)" =~ ^0+$ ]] || fail "it has capabilities: $set $(status $set)"
done
[ "$(status NoNewPrivs)" = 1 ] || fail "it may gain privileges"
as_user() { nsenter --target "$pid" --mount --pid --root setpriv --reuid "$user" --regid "$user" --clear-groups "$@"; }
for place in / /tmp /usr/share/emberline /var/tmp /etc; do
  if as_user touch "$place/written" 2> /dev/null; then fail "it can write to $place"; fi
done
as_user touch /run/emberline/written || fail "it cannot write to /run/emberline"
say "user $user, process 1 of its own, no capability in any set, no new privileges, writes to /run/emberline alone"

# A cable from outside to it, and a master at the other end; addresses are those kept for documentation (RFC 5737), of
# which this machine may use some.
near=198.51.100.1 far=198.51.100.2
[ -z "$(ip route show to match "$far" | grep -v ^default || true)" ] || near=203.0.113.1 far=203.0.113.2
ip link add "$link" type veth peer name "${link}in" && ip link set "${link}in" netns "$pid" || cannot "there is no network to lay a cable in"
ip addr add "$near/30" dev "$link"
ip link set "$link" up
nsenter --target "$pid" --net ip addr add "$far/30" dev "${link}in"
nsenter --target "$pid" --net ip link set "${link}in" up
answer=$("$master" read --registers config/registers/short-blocks.yaml "$far:1502" 1 state) || fail "no answer to a master outside"
say "answers a master outside: $(tr -s ' \n' ' ' <<< "$answer")"

begun=$(date +%s%N)
kill -TERM "$pid"
code=0
wait "$outer" || code=$?
took=$((($(date +%s%N) - begun) / 1000000))
pid=""
[ "$code" = 0 ] || fail "stopped with status $code; expected 0"
[ "$took" -le 1000 ] || fail "it took $took ms to stop; expected a second at most"
say "stops with status 0, $took ms after SIGTERM"
