"""Run every page top to bottom for the Tagmaker and store its outputs.

python notebooks/run_pages.py [PAGE.ipynb ...]

What differs from run to run is left out: times, widget state, versions. A second run leaves the
files as they are, so a difference in a file is a difference in a result.
"""

import os
import subprocess
import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

from mathlib.machine import TAGMAKER, VARIABLE

HERE = Path(__file__).resolve().parent
LIVE = "application/vnd.jupyter.widget-view+json"
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"file_extension": ".py", "mimetype": "text/x-python", "name": "python"},
}


def joined(outputs: list[nbformat.NotebookNode]) -> list[nbformat.NotebookNode]:
    """Join what was printed, which the kernel sends in pieces of chance length."""
    found: list[nbformat.NotebookNode] = []
    for output in outputs:
        name = output.get("name")
        if found and name is not None and name == found[-1].get("name"):
            found[-1].text += output.text
        else:
            found.append(output)
    return found


def tidy(page: nbformat.NotebookNode) -> str:
    """Write the page without what changes from run to run."""
    page.metadata = nbformat.from_dict(METADATA)
    for cell in page.cells:
        if "outputs" in cell:
            cell.outputs = joined(cell.outputs)
        for output in cell.get("outputs", []):
            output.get("data", {}).pop(LIVE, None)
            output.get("metadata", {}).pop(LIVE, None)
    nbformat.validate(page)
    return nbformat.writes(page) + "\n"


def store(path: Path) -> bool:
    """Run one page and write it if anything changed; tell whether it did."""
    page = nbformat.read(path, as_version=4)
    NotebookClient(
        page,
        timeout=120,
        kernel_name="python3",
        record_timing=False,
        store_widget_state=False,
        resources={"metadata": {"path": str(HERE)}},
    ).execute(stderr=subprocess.DEVNULL)  # mistakes of cells come back as outputs
    text = tidy(page)
    if text == path.read_text(encoding="utf-8"):
        return False
    beside = path.with_suffix(".new")
    beside.write_text(text, encoding="utf-8", newline="\n")
    beside.replace(path)
    return True


def main(named: list[str]) -> int:
    """Run the pages that are named, or all of them."""
    os.environ[VARIABLE] = str(TAGMAKER)
    for path in [Path(name) for name in named] or sorted(HERE.glob("*.ipynb")):
        if path.suffix != ".ipynb" or not path.is_file():
            print(f"There is no page {path}; name a file that ends in .ipynb.", file=sys.stderr)
            return 2
        try:
            changed = store(path)
        except CellExecutionError as fault:
            print(f"{path.name} stopped, and stays as it was:\n{fault}", file=sys.stderr)
            return 1
        print(f"{path.name}: {'stored anew' if changed else 'unchanged'}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
