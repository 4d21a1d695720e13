"""Runs every notebook of this folder from top to bottom: `python run.py [RESULT]`.

RESULT is a result folder of `meltlaw develop`; without it the notebooks' own default holds. Prints `N passed, N failed`
and ends with status 1 if any failed. The notebooks on disk stay without outputs; `--save FOLDER` keeps the executed ones.
"""

import argparse
import os
import pathlib
import sys
import time

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

HERE = pathlib.Path(__file__).resolve().parent


def run(path, save):
    """Executes one notebook; returns what went wrong, or None."""
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(HERE)}})
    try:
        client.execute()
    except (CellExecutionError, CellTimeoutError, DeadKernelError, RuntimeError) as error:
        return str(error)
    finally:
        if save:
            save.mkdir(parents=True, exist_ok=True)
            nbformat.write(notebook, save / path.name)
    return None


def main():
    arguments = argparse.ArgumentParser(description="Runs every notebook of this folder.")
    arguments.add_argument("result", nargs="?", type=pathlib.Path, help="result folder of `meltlaw develop`")
    arguments.add_argument("--save", type=pathlib.Path, help="folder for the executed notebooks")
    asked = arguments.parse_args()
    result = asked.result or os.environ.get("MELTLAW_RESULT")
    if result:
        os.environ["MELTLAW_RESULT"] = str(pathlib.Path(result).resolve())
    for path in ("MELTLAW_STUDY", "MELTLAW_PROGRAM", "MELTLAW_FAMILY"):
        if os.environ.get(path):
            os.environ[path] = str(pathlib.Path(os.environ[path]).resolve())

    passed = failed = 0
    for path in sorted(HERE.glob("*.ipynb")):
        begun = time.perf_counter()
        wrong = run(path, asked.save)
        print(f"{path.name}: {'failed' if wrong else 'passed'}, {time.perf_counter() - begun:.1f} s", flush=True)
        if wrong:
            failed += 1
            print(wrong, file=sys.stderr)
        else:
            passed += 1
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
