#!/bin/sh
# The job after the array: verifies the corpus and compares detectors on it.
#
#   sbatch --dependency=afterok:ARRAY compare.sh CORPUS RESULT.json
#SBATCH --job-name=compare
#SBATCH --ntasks=1
set -eu
strikerose check -C "$1"
strikerose compare -C "$1" --detectors kick-direction,complex-ridge --json > "$2"
