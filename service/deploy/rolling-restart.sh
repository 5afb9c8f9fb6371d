#!/bin/sh
# Restart the replicas one after the other, so that calls always find one that answers:
#
#   rolling-restart.sh 8001 8002
#
# Each stops gracefully, and the next has its turn only when it is ready again and the proxy has
# had time to notice. RESTART names what restarts the replica at a port, where systemd does not.
set -eu

restart="${RESTART:-systemctl restart}"
patience_s="${PATIENCE_S:-60}"
notice_s="${NOTICE_S:-3}" # longer than fail_timeout in nginx.conf

ready() {
  curl -sf -o /dev/null --max-time 2 "http://127.0.0.1:$1/health/ready"
}

for port in "$@"; do
  case "$restart" in
    systemctl*) $restart "sunhitch@$port" ;;
    *) $restart "$port" ;;
  esac
  waited_s=0
  until ready "$port"; do
    waited_s=$((waited_s + 1))
    if [ "$waited_s" -gt "$patience_s" ]; then
      echo "the replica at port $port is not ready after $patience_s s; the others were left alone" >&2
      exit 1
    fi
    sleep 1
  done
  echo "the replica at port $port is ready"
  sleep "$notice_s"
done
