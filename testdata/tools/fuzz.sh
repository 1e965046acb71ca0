#!/usr/bin/env bash
# Runs every fuzz target of the module for FUZZTIME each and stops at the
# first crash; its input stays under the package's testdata/fuzz.
set -euo pipefail
for package in $(go list ./...); do
  for target in $(go test -list '^Fuzz' "$package" | grep '^Fuzz' || true); do
    echo "== $package $target"
    go test -run '^$' -fuzz "^$target\$" -fuzzminimizetime 10x -fuzztime "$FUZZTIME" "$package"
  done
done
