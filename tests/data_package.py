"""The data package of a result, read by the `frictionless` package: data_package.py PROGRAM RESULT

Validates RESULT and then a study whose texts are as awkward as a table allows. Valid means: the descriptor is one, every
file has its stated bytes and hash, every cell is of its column's type, the first column is a key where it is said to be.
"""

import csv
import json
import pathlib
import subprocess
import sys
import tempfile

from frictionless import Package, validate

EXAMPLE = pathlib.Path(__file__).resolve().parents[1] / "datasets/golden/v2"


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as file:
        lines = file.readlines()
    while lines and lines[0].startswith("#"):
        lines.pop(0)
    return list(csv.reader(lines))


def valid(folder):
    report = validate(str(folder / "datapackage.json"))
    faults = report.flatten(["title", "type", "message"])
    assert report.valid, faults[:5]
    package = Package(str(folder / "datapackage.json"))
    described = {resource.path for resource in package.resources if resource.type == "table"}
    there = {str(path.relative_to(folder).as_posix()) for path in folder.rglob("*.csv")}
    assert described == there, described ^ there
    for resource in package.resources:
        if resource.type == "table":
            header, *rows = rows_of(folder / resource.path)
            read = resource.read_rows()
            assert resource.schema.field_names == header, resource.path
            # A comment line taken for a row, or a row for a comment, would show here.
            assert len(read) == len(rows), f"{resource.path}: {len(read)} rows read, {len(rows)} are there"
    return len(described)


def awkward(program, folder):
    """Names and notes that look like comments, formulas, numbers and markup; a column of the user's with leading zeros."""
    rows = rows_of(EXAMPLE / "trials.csv")
    header, body = rows[0], rows[1:]
    names = ["#1", "=1+1", "007", "-2", "a,b", 'say "x"', "<b>", "Ø 1,2"]
    for row, name in zip(body, names):
        row[0] = name
        row[header.index("note")] = f"# {name}; 'two', three"
    table = [[*header, "operator", "=SUM(A1)"]] + [[*row, f"{i:03}", "x"] for i, row in enumerate(body)]
    with open(folder / "trials.csv", "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(table)
    study = (EXAMPLE / "study.toml").read_text(encoding="utf-8")
    name = 'name = "}, \\\\input{x} <script>alert(1)</script> @book{evil, # $_%"'
    (folder / "study.toml").write_text(study.replace(study.split("\n")[1], name), encoding="utf-8")
    subprocess.run([program, "develop", folder], check=True, capture_output=True)
    described = json.loads((folder / "result/datapackage.json").read_text(encoding="utf-8"))
    assert described["name"].replace("-", "").isalnum() and described["name"] == described["name"].lower()
    trials = next(resource for resource in Package(str(folder / "result/datapackage.json")).resources if resource.name == "trials")
    assert [row["operator"] for row in trials.read_rows()][:3] == ["000", "001", "002"]
    return folder / "result"


def main():
    program, result = sys.argv[1], pathlib.Path(sys.argv[2])
    print(f"{result}: {valid(result)} tables read")
    with tempfile.TemporaryDirectory() as folder:
        print(f"an awkward study: {valid(awkward(program, pathlib.Path(folder)))} tables read")


if __name__ == "__main__":
    main()
