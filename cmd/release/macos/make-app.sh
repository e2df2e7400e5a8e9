#!/bin/sh
# Builds the window into Stopladder.app, on a Mac, in a clone of the repository.
# NOT YET RUN: written without a Mac.
set -eu
app=${1:?say in which folder Stopladder.app stands}/Stopladder.app
[ "$(uname -s)" = Darwin ] || { echo "this is not macOS: the window is built on a Mac alone" >&2; exit 1; }
[ -f FyneApp.toml ] || { echo "start this in a clone of the repository" >&2; exit 1; }
[ -f "$app/Contents/Info.plist" ] || { echo "$app is not there" >&2; exit 1; }
mkdir -p "$app/Contents/MacOS"
CGO_ENABLED=1 MACOSX_DEPLOYMENT_TARGET=12.0 go build -trimpath -buildvcs=false -tags=migrated_fynedo,no_emoji \
  -ldflags "-s -w -buildid=" -o "$app/Contents/MacOS/stopladder" ./cmd/stopladder
codesign --force --sign - "$app"
plutil -lint "$app/Contents/Info.plist"
echo "$app is ready"
