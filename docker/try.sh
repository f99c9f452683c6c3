#!/usr/bin/env bash
# Builds the image, starts it, waits until it says that it is healthy, reads a register, and ends it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

image=emberline-try:$$
container=""
clean_up() {
  [ -z "$container" ] || docker rm --force "$container" > /dev/null
  docker image rm "$image" > /dev/null 2>&1 || true
}
trap clean_up EXIT

docker build -f docker/Dockerfile -t "$image" .
container=$(docker run --detach "$image")
for _ in $(seq 60); do
  health=$(docker inspect --format '{{.State.Health.Status}}' "$container")
  [ "$health" = starting ] || break
  sleep 1
done
if [ "$health" != healthy ]; then
  docker logs "$container"
  echo "the container says of itself: $health; expected healthy"
  exit 1
fi
docker exec "$container" emberline read --bench config/benches/container.yaml ethernet soak-heater state
[ "$(docker exec "$container" id -u)" != 0 ] || { echo "the container runs as root"; exit 1; }
docker stop --time 10 "$container" > /dev/null
status=$(docker inspect --format '{{.State.ExitCode}}' "$container")
[ "$status" = 0 ] || { echo "stopped with status $status; expected 0"; exit 1; }
echo "engine: builds, serves, is healthy, answers a read, and stops with status 0"
