"""The examples of the pages are run, in order, and print what the pages say."""

from __future__ import annotations

import pytest
from docs_examples import PAGES, ROOT, as_told, paddock, read_examples


@pytest.mark.parametrize("name", PAGES)
def test_examples_run_and_print_what_is_told(name, tmp_path):
    """Protects whoever types a page's examples: each ends as told and prints what stands there.

    `python tests/docs_examples.py` writes the outputs anew.
    """
    examples = read_examples(ROOT / name)
    assert len(examples) > 5
    with paddock(tmp_path) as ready:
        for example in examples:
            code, printed = ready.run(example)
            assert code == example.exit_code, (example.place, printed)
            if example.output:
                assert as_told(printed, example.output) == example.output, example.place
