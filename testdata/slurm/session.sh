#!/bin/sh
# One task of a job array: brings the log of line N of the list into the corpus,
# finds its strikes, lays its plan over them and computes their features. Tasks share
# nothing but the corpus's directory, and each may be run again.
#
#   sbatch --array=1-$(wc -l < LIST) session.sh LIST RIG CORPUS
#
# LIST has a log a line; the plan of DIR/NAME.bin is DIR/NAME-plan.csv.
#SBATCH --job-name=strikes
#SBATCH --ntasks=1
#SBATCH --cpus-per-task=1
set -eu
log=$(sed -n "${SLURM_ARRAY_TASK_ID}p" "$1")
rig=$2 corpus=$3
session=$(basename "$log" .bin)

strikerose import -C "$corpus" --rig "$rig" --striker "${STRIKER:-anna}" --force "$log"
strikerose find -C "$corpus" --sessions "$session"
strikerose label plan -C "$corpus" --session "$session" "${log%.bin}-plan.csv"
strikerose features -C "$corpus" --sessions "$session"
