#!/usr/bin/env bash
# Builds the program for the common platforms into OUT (dist unless told), twice,
# the second time from a copy of the tree elsewhere, and fails where one byte
# differs. Beside the binaries: their SHA-256, a software bill of materials for each
# (CycloneDX), and the licences of everything in them.
set -euo pipefail
cd "$(dirname "$0")/../.."
out=${1:-dist}
version=$(sed -n 's/^const Version = "\(.*\)"$/\1/p' pipeline/run/doc.go)
[ -n "$version" ] || { echo "dist: no version in pipeline/run/doc.go" >&2; exit 1; }
platforms="linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64"
sbom=${SBOM:-.tools/bin/cyclonedx-gomod}
name() { local end=""; [ "${1%/*}" = windows ] && end=.exe; echo "lengthwise_${version}_${1%/*}_${1#*/}$end"; }
build() { # SOURCE TARGET
  for p in $platforms; do
    (cd "$1" && CGO_ENABLED=0 GOOS=${p%/*} GOARCH=${p#*/} GOFLAGS= \
      go build -trimpath -buildvcs=false -ldflags '-s -w -buildid=' -o "$2/$(name "$p")" ./cmd/lengthwise)
  done
}
mkdir -p "$out"
out=$(cd "$out" && pwd)
rm -f "$out"/lengthwise_* "$out"/SHA256SUMS "$out"/LICENCES.txt
build "$PWD" "$out"
other=$(mktemp -d)
trap 'rm -rf "$other"' EXIT
mkdir "$other/tree" "$other/out"
git ls-files -z | xargs -0 cp --parents -t "$other/tree"
build "$other/tree" "$other/out"
for f in "$other"/out/*; do
  cmp "$f" "$out/$(basename "$f")" || { echo "dist: $(basename "$f") differs between two builds" >&2; exit 1; }
done
echo "the same bytes from two folders: $(ls "$other/out" | wc -l) binaries"
for p in $platforms; do
  "$sbom" bin -json -licenses -noserial -notimestamp -version "v$version" -output "$out/$(name "$p").cdx.json" "$out/$(name "$p")"
done
go list -deps -f '{{with .Module}}{{if .Version}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}' ./cmd/lengthwise | sort -u | while read -r path at dir; do
  printf '%s\n== %s %s\n\n' "" "$path" "$at"
  found=$(ls "$dir" | grep -iE '^(licen[cs]e|copying|notice)(\.|$)' || true)
  [ -n "$found" ] || { echo "dist: $path has no licence file" >&2; exit 1; }
  for f in $found; do cat "$dir/$f"; done
done > "$out/LICENCES.txt"
(cd "$out" && sha256sum lengthwise_* LICENCES.txt > SHA256SUMS)
echo "binaries, bills of materials, licences and SHA256SUMS are in $out"
