#!/bin/sh
# The main job on a real example: check, simulate, build, and test the built board virtually. $1 is the folder of
# the tools, with a slash; $2 the folder to fill.
set -eu
run=$1
out=$2
example=examples/spot_stitch.toml
name=spot_stitch
rm -rf "$out"
mkdir -p "$out"

step() { printf '\n== %s\n' "$1"; }

step "1. Check the design against the rules: wirecue check $example"
"${run}wirecue" check "$example"

step "2. See the sequence: wirecue simulate $example"
"${run}wirecue" simulate "$example" --svg "$out/timeline.svg" --vcd "$out/timeline.vcd"

step "3. Make sketch and bench test: wirecue build $example"
"${run}wirecue" build "$example" --output "$out/build"

step "4. Test a virtual board over a serial link: wirecue bench $example --virtual"
"${run}wirecue" bench "$example" --virtual --yes --json "$out/bench.json"

step "Made, in $out"
for entry in "$out"/* "$out"/build/*; do
    if [ "$entry" = "$out/build" ]; then continue; fi
    if [ -d "$entry" ]; then
        echo "$entry/  ($(find "$entry" -type f | wc -l) files)"
    else
        echo "$entry"
    fi
done
cat <<END

Open first:  $out/build/sheet.html        the build sheet, in any browser; sheet.pdf is for the printer
Then:        $out/timeline.svg            the sequence as a picture
             $out/build/$name/$name.ino   the sketch, for the board maker's own IDE
             $out/build/bench/README.md   the bench test for the real board
END
