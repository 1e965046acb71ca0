#!/bin/bash
# Deals a run of lengthwise out over the nodes of a Slurm cluster that see the
# study's folder. Written by "lengthwise deal slurm"; run it where sbatch is:
#   bash THIS-FILE
# Four phases follow each other: read, measure and answer as arrays of tasks, reduce
# as one. A task that fails is tried once more. A phase begins when the one before has
# ended, however it ended, and names what is missing; then run this file again: what
# is done is not done again.
set -euo pipefail
program={{.Program}}
study={{.Study}}
shards={{.Shards}}
options=({{.Options}})              # for sbatch: account, partition, time, memory
cpus=${LENGTHWISE_CPUS:-{{.CPUs}}}  # of a task

# submit NAME ARGUMENTS...: one job that runs a phase; prints its number.
submit() {
  local name=$1; shift
  sbatch --parsable --job-name "lengthwise-$name" --cpus-per-task "$cpus" "${options[@]}" "${depend[@]}" "$@" <<JOB
#!/bin/bash
step() { $(printf %q "$program") run --study $(printf %q "$study") --phase $name $share --workers "\${SLURM_CPUS_PER_TASK:-1}"; }
step || { echo "once more" >&2; sleep "\${LENGTHWISE_PAUSE:-5}"; step; }
JOB
}

depend=()
for phase in read measure answer; do
  share="--shard \${SLURM_ARRAY_TASK_ID}/$shards"
  job=$(submit "$phase" --array "1-$shards")
  echo "$phase: job $job, $shards tasks"
  depend=(--dependency "afterany:$job")
done
share="--shards $shards"
job=$(submit reduce)
echo "reduce: job $job; the result is in the study's output folder when it is done"
