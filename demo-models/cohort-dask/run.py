"""Spreads the shares of a cohort over the workers of Dask, joins them, and reads the result.

Two workers on this machine; give --scheduler ADDRESS to use a cluster that runs already and whose
workers see the same folders and the same program. Dask knows nothing of bones: each task is one call
of `cupwright cohort --shard K/N`. A share goes on where it was stopped, so a task whose worker died
is simply given to another.

    python3 run.py --program ../../target/release/cupwright --out /tmp/pelves -- --sample 200 --seed 7

What stands after `--` is handed to every call.
"""

import argparse
import os
import subprocess
import sys
from pathlib import Path

import pyarrow.compute as compute
import pyarrow.parquet as parquet
from dask.distributed import Client, LocalCluster, as_completed


def share(program, arguments, number, of, folder):
    """Does share `number` of `of` in a process of its own; returns its folder."""
    command = [program, "cohort", *arguments, "--shard", f"{number}/{of}", "--out", folder]
    # One member at a time: it is the engine that spreads the work.
    environment = os.environ | {"RAYON_NUM_THREADS": "1"}
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"share {number}/{of}: {done.stderr.strip()}")
    return folder


def run(client, program, arguments, shares, out):
    """Does all shares on the workers of `client` and joins them in `out`."""
    folders = [str(out / "shares" / f"{number}-of-{shares}") for number in range(1, shares + 1)]
    tasks = [
        client.submit(share, program, arguments, number, shares, folder, retries=2, pure=False)
        for number, folder in enumerate(folders, start=1)
    ]
    for count, task in enumerate(as_completed(tasks), start=1):
        task.result()
        print(f"{count} of {shares} shares done", file=sys.stderr)
    subprocess.run([program, "cohort", "--join", *folders, "--out", str(out)], check=True)


def tell(table):
    """Prints coverage by preset, from the joined Parquet file."""
    used = table.filter(compute.is_null(table["problem"]))
    by_preset = used.group_by("preset").aggregate(
        [("coverage_after_reaming", "mean"), ("coverage_after_reaming", "count")]
    )
    for row in sorted(by_preset.to_pylist(), key=lambda row: row["preset"]):
        coverage, count = row["coverage_after_reaming_mean"], row["coverage_after_reaming_count"]
        print(f"{row['preset']}: mean coverage after reaming {coverage:.1%} of {count} members")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--program", default="cupwright", help="the program, or where it is")
    parser.add_argument("--shares", type=int, default=4, help="into how many shares to cut the cohort")
    parser.add_argument("--workers", type=int, default=2, help="processes on this machine")
    parser.add_argument("--scheduler", help="address of a cluster to use instead")
    parser.add_argument("--out", type=Path, required=True, help="folder for the shares and the result")
    parser.add_argument("arguments", nargs="+", help="arguments of cupwright cohort, after --")
    asked = parser.parse_args()
    program = str(Path(asked.program).resolve()) if os.sep in asked.program else asked.program

    if asked.scheduler:
        client = Client(asked.scheduler)
    else:
        cluster = LocalCluster(n_workers=asked.workers, threads_per_worker=1, dashboard_address=None)
        client = Client(cluster)
    with client:
        run(client, program, asked.arguments, asked.shares, asked.out.resolve())
    if not asked.scheduler:
        cluster.close()
    table = parquet.read_table(asked.out / "cohort.parquet")
    if "preset" in table.column_names:
        tell(table)


if __name__ == "__main__":
    main()
