"""Execute notebooks with a real kernel and keep them as HTML.

    python execute_notebooks.py FOLDER [HTML-FOLDER]

FOLDER holds the notebooks as "lengthwise notebooks" writes them. The HTML loads
nothing. Exits with 1 and the cell's error where a notebook fails.
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError
from nbconvert import HTMLExporter
from nbconvert.preprocessors import TagRemovePreprocessor

# The page without the scripts that it would fetch from elsewhere.
TEMPLATE = """{% extends 'lab/index.html.j2' %}
{% block html_head_js %}{% endblock %}
{% block html_head_js_mathjax %}{% endblock %}
{% block html_head_js_mermaidjs %}{% endblock %}
"""


def execute(path):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    started = time.monotonic()
    client = NotebookClient(notebook, kernel_name="python3", timeout=120, resources={"metadata": {"path": str(path.parent)}})
    try:
        client.execute()
    except CellExecutionError as error:
        return path, None, f"{path.name}: {error}"
    for cell in notebook.cells:
        if cell.get("metadata", {}).get("jupyter", {}).get("source_hidden"):
            cell.metadata["tags"] = ["hidden"]
    exporter = HTMLExporter(raw_template=TEMPLATE)
    exporter.register_preprocessor(TagRemovePreprocessor(remove_input_tags={"hidden"}), enabled=True)
    page, _ = exporter.from_notebook_node(notebook, {"metadata": {"name": path.stem}})
    return path, page, f"{path.name}: executed in {time.monotonic() - started:.1f} s"


def main(folder, keep=None):
    paths = sorted(Path(folder).glob("*.ipynb"))
    if not paths:
        print(f"no notebook in {folder}", file=sys.stderr)
        return 1
    failed = False
    with ProcessPoolExecutor(2) as pool:
        for path, page, words in pool.map(execute, paths):
            print(words)
            failed |= page is None
            if keep and page is not None:
                Path(keep).mkdir(parents=True, exist_ok=True)
                (Path(keep) / f"{path.stem}.html").write_text(page, encoding="utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
