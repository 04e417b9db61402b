// Package corpus keeps recordings on disk: a directory of Parquet files,
// partitioned by rig and session, that any Parquet engine can query in place.
//
//	corpus.toml                                      format version
//	rigs/NAME-rREV.toml                              one file a revision
//	raw/<sha256>.zst                                 each log as it came
//	samples/rig=NAME-rREV/session=S/part-0.parquet   readings, sensor frame
//	sessions/rig=.../session=S/part-0.parquet        one row: what is known of it
//	windows/  features/  labels/                     likewise: strikes found, feature
//	                                                 values, view of the label journal
//	journal/S.jsonl                                  label journal, written by package label
//	journal/dropped/S-<sha256>.jsonl                 journals of dropped sessions
//	calls/NAME.csv                                   plans with the times of their calls
//	.locks/                                          lock files, safe to delete when nothing runs
//	.pending/                                        changes under way
//	.upgraded/                                       only while an older format is upgraded
//
// What holds at every moment, also after a kill or a full disk:
//
//   - A file is written under a temporary name in its own folder, synced and
//     renamed. Temporary names start with a dot and do not end in .parquet, so
//     no reader sees them; the next writer of that folder removes them.
//   - Every Parquet file carries the SHA-256 of itself in its metadata and is
//     verified whenever all of it is read. See sealKey.
//   - A change that takes several renames is first written down in .pending and
//     then carried out, so a killed change is finished by whoever opens the
//     corpus next. See change.
//   - A session exists if and only if its sessions part exists.
//   - Writers of one session exclude each other by a file lock and say so at
//     once; writers of different sessions only meet for the few renames that
//     publish a session.
//   - No file is of more than one session but corpus.toml, rig files and logs kept,
//     which are written once, and none holds the time or a random number of its own: many processes on
//     many machines make the same bytes that one makes alone.
//
// Samples are written and read row group by row group: SessionWriter, EachChunk,
// EachReading, Stretches and Check take the memory of a few row groups, however
// long the session is; only Signal holds all of it. Texts and small whole numbers
// have a dictionary, times deltas, readings split bytes, and all are compressed by
// Zstandard. What a stranger's file states is held against what it can hold before
// memory is taken for it: see checkFooter and checkPages.
//
// For writers to keep out of each other's way the file system must give flock(2)
// among all machines that write, rename over an existing file in one step, and show
// a file under its new name to all at once: local disks do, NFS from version 4,
// Lustre mounted with flock.
// Hard links are not used. Where there are no locks, as on most mounts of object
// stores, writing is refused with the remedy and reading works: write on a disk
// that has them, one job alone or a corpus a job, and copy.
//
// The package refuses names that are unsafe as file names, a rig revision whose
// content changed, a log that another session already holds, and a format
// version that it does not know. It sits on dataset and dataset/rig, and is the
// only package that knows Parquet.
package corpus
