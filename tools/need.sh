#!/usr/bin/env bash
# Installs, with apt, what a command of this repository needs and the machine
# lacks. Quiet when all is there.
#
#   tools/need.sh demo     what the demo needs: ffmpeg, npm
#   tools/need.sh test     what the tests need besides: Chromium, poppler, and
#                          axe-core, which looks at pages for what keeps people out
set -euo pipefail

missing=()
want() { # want COMMAND PACKAGE
  command -v "$1" >/dev/null 2>&1 || missing+=("$2")
}

case "${1:-}" in
demo | test)
  want ffmpeg ffmpeg
  want ffprobe ffmpeg
  want npm npm
  ;;
*)
  echo "usage: tools/need.sh demo|test" >&2
  exit 2
  ;;
esac
if [ "$1" = test ]; then
  command -v chromium-browser >/dev/null 2>&1 || want chromium chromium
  want pdftotext poppler-utils
  want pdftoppm poppler-utils
fi

if ! command -v go >/dev/null 2>&1; then
  echo "Go is missing (1.26 or newer): get it from go.dev/dl or your system's packages." >&2
  exit 4
fi

# Checks pages for the tests; kept in the user's cache, never in the
# repository (axe-core, Mozilla Public License 2.0).
axe_version=4.14.1
axe_sha256=29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c
fetch_axe() {
  local dir=${XDG_CACHE_HOME:-$HOME/.cache}/plumbstride/axe-core-$axe_version tmp
  [ -f "$dir/axe.min.js" ] && return 0
  tmp=$(mktemp -d)
  (cd "$tmp" && npm pack --silent "axe-core@$axe_version" >/dev/null && tar -xzf "axe-core-$axe_version.tgz" package/axe.min.js)
  if ! echo "$axe_sha256  $tmp/package/axe.min.js" | sha256sum -c --status; then
    rm -rf "$tmp"
    echo "axe-core $axe_version is not the file that was expected." >&2
    return 4
  fi
  mkdir -p "$dir"
  mv "$tmp/package/axe.min.js" "$dir/axe.min.js"
  rm -rf "$tmp"
}
finish() {
  [ "$1" != test ] || fetch_axe
}

if [ ${#missing[@]} -eq 0 ]; then
  finish "$1"
  exit 0
fi

mapfile -t missing < <(printf '%s\n' "${missing[@]}" | sort -u)
if ! command -v apt-get >/dev/null 2>&1; then
  echo "Missing: ${missing[*]}. This is no Debian or Ubuntu: install them in your system's way, then try again." >&2
  exit 4
fi

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  if ! command -v sudo >/dev/null 2>&1; then
    echo "Missing: ${missing[*]}. As root: apt-get install ${missing[*]}" >&2
    exit 4
  fi
  as_root=(sudo)
fi
echo "Installing with apt: ${missing[*]}"
export DEBIAN_FRONTEND=noninteractive
log=$(mktemp)
trap 'rm -f "$log"' EXIT
install() {
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}" >"$log" 2>&1
}
if ! install; then # package lists that are missing or old
  "${as_root[@]}" apt-get update >"$log" 2>&1 || { tail -n 20 "$log" >&2; exit 4; }
  install || { tail -n 20 "$log" >&2; exit 4; }
fi
finish "$1"
