#!/usr/bin/env bash
# Starts a PostgreSQL server of its own (installed from the distribution's packages where it is not there) in a temporary
# folder on a free port, runs what is given with its address in HOUSELIGHTS_POSTGRES, and stops it again. It takes encrypted
# connections too (and for a database called `encrypted` no others), with a certificate that is vouched for by the one in
# HOUSELIGHTS_POSTGRES_AUTHORITY:
#
#     bash tests/postgres/run.sh cargo test --features many-machines
set -euo pipefail

newest() { printf '%s\n' /usr/lib/postgresql/*/bin/initdb | sort -V | tail -n 1; }

initdb=$(newest)
if [ ! -x "$initdb" ]; then
  as_root=()
  [ "$(id -u)" = 0 ] || as_root=(sudo)
  # The package would begin a cluster for the whole machine: it only has to bring its programs.
  "${as_root[@]}" mkdir -p /etc/postgresql-common/createcluster.d
  echo "create_main_cluster = false" |
    "${as_root[@]}" tee /etc/postgresql-common/createcluster.d/none.conf >/dev/null
  "${as_root[@]}" apt-get update -qq
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends postgresql >/dev/null
  initdb=$(newest)
fi
programs=$(dirname "$initdb")

home=$(mktemp -d)
# The server refuses to run as root: there it runs as the user that its package made.
as_server=()
if [ "$(id -u)" = 0 ]; then
  chown postgres "$home"
  as_server=(setpriv --reuid=postgres --regid=postgres --clear-groups)
fi
serve() { (cd "$home" && "${as_server[@]}" "$@"); }

stop() {
  serve "$programs/pg_ctl" -D "$home/cluster" -m immediate stop >/dev/null 2>&1 || true
  rm -rf "$home"
}
trap stop EXIT

# Whoever vouches, and the server that is vouched for.
request() { openssl req -newkey rsa:2048 -nodes -days 2 -subj "/CN=$1" -keyout "$home/$2.key" "${@:3}" 2>/dev/null; }
request "houselights tests" authority -x509 -out "$home/authority.crt"
request 127.0.0.1 server -x509 -CA "$home/authority.crt" -CAkey "$home/authority.key" \
  -addext "subjectAltName=IP:127.0.0.1" -addext "basicConstraints=critical,CA:FALSE" -out "$home/server.crt"
if [ "$(id -u)" = 0 ]; then chown postgres "$home"/server.*; fi
chmod 600 "$home/server.key"
chmod 755 "$home"
chmod 644 "$home/authority.crt"

serve "$programs/initdb" -D "$home/cluster" -U houselights --auth=trust --encoding=UTF8 --locale=C >/dev/null
serve sed -i '1i hostnossl encrypted all all reject' "$home/cluster/pg_hba.conf"
# A port that was free a moment ago may not be any more: then another one.
for _ in 1 2 3 4 5; do
  port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
  if serve "$programs/pg_ctl" -D "$home/cluster" -l "$home/log" -w \
    -o "-c listen_addresses=127.0.0.1 -c port=$port -c unix_socket_directories=$home \
      -c ssl=on -c ssl_cert_file=$home/server.crt -c ssl_key_file=$home/server.key" start >/dev/null; then
    HOUSELIGHTS_POSTGRES_AUTHORITY="$home/authority.crt" HOUSELIGHTS_POSTGRES="postgres://houselights@127.0.0.1:$port/postgres" "$@"
    exit
  fi
done
cat "$home/log" >&2
echo "the PostgreSQL server does not start" >&2
exit 1
