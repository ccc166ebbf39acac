#!/bin/sh
# Mean CIE L* of photos with ImageMagick: decode, to linear RGB, average.
# usage: imagemagick_mean.sh REPEATS PHOTO...  -> prints the least seconds for all, and the last L*
repeats=$1
shift
best=
for _ in $(seq "$repeats"); do
	start=$(date +%s.%N)
	for photo in "$@"; do
		means=$(convert "$photo" -colorspace RGB -format '%[fx:mean.r] %[fx:mean.g] %[fx:mean.b]' info:)
	done
	end=$(date +%s.%N)
	best=$(echo "$start $end ${best:-999}" | awk '{ d = $2 - $1; print (d < $3) ? d : $3 }')
done
echo "$best $means" | awk '{ y = .2126390059 * $2 + .7151686788 * $3 + .0721923154 * $4; print $1, 116 * exp(log(y) / 3) - 16 }'
