#!/usr/bin/env bash
# Installs the system packages that tests use and records what it installed.
# Nothing is installed over what is there; without apt-get, or without the
# right to use it, the tests that need a package say that they were skipped.
set -euo pipefail
record="$(dirname "$0")/../../.tools/system-packages.txt"
mkdir -p "$(dirname "$record")"
missing=()
command -v chromium >/dev/null || command -v chromium-browser >/dev/null || missing+=(chromium)
command -v sbatch >/dev/null || missing+=(slurmctld slurmd slurm-client munge)
if [ ${#missing[@]} -eq 0 ]; then
  exit 0
fi
if ! command -v apt-get >/dev/null || [ "$(id -u)" -ne 0 ]; then
  echo "not installed (needs apt-get and root): ${missing[*]}; tests that use them are skipped"
  exit 0
fi
export DEBIAN_FRONTEND=noninteractive
apt-get update -qq
apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
for package in "${missing[@]}"; do
  dpkg-query -W -f '${Package} ${Version}\n' "$package"
done | tee -a "$record"
