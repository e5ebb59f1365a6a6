"""Draw the terminal picture of the README again: ``python docs/pictures.py``.

The demo runs in a folder that is thrown away; what it prints is drawn as it was printed.
"""

import os
import subprocess
import sys
import tempfile
from io import StringIO
from pathlib import Path

from rich.console import Console
from rich.text import Text

ROOT = Path(__file__).resolve().parent.parent
PICTURE = ROOT / "docs" / "pictures" / "demo.svg"
WORDS = ("demo", "--studio", "demo")
COLUMNS = 88
SVG_FORMAT = """\
<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{
    font-family: Menlo, Consolas, "DejaVu Sans Mono", monospace;
    font-size: {char_height}px;
    line-height: {line_height}px;
}}
.{unique_id}-title {{ font-size: 18px; font-weight: bold; font-family: sans-serif; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" />
</clipPath>
{lines}
</defs>
{chrome}
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""
"""As the library's own, but it fetches no font from anywhere."""


def printed_by(words: tuple[str, ...], folder: Path) -> str:
    """Return what a command prints when it runs in a folder."""
    environment = {
        **os.environ,
        "COLUMNS": str(COLUMNS),
        "PYTHONIOENCODING": "utf-8",
        "PYTHONPATH": str(ROOT / "src"),
    }
    command = [sys.executable, "-m", "loosehand", *words]
    run = subprocess.run(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, encoding="utf-8", check=True
    )
    return run.stdout


def drawn(printed: str, *, title: str) -> str:
    """Return a picture, as SVG, of a terminal that shows what was printed."""
    console = Console(record=True, width=COLUMNS, file=StringIO())
    console.print(Text.from_ansi(printed.rstrip("\n")), highlight=False)
    svg = console.export_svg(title=title, code_format=SVG_FORMAT, unique_id="demo")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


def main() -> None:
    """Run the demo and draw it."""
    with tempfile.TemporaryDirectory() as folder:
        printed = printed_by(WORDS, Path(folder))
        if folder in printed:
            sys.exit("The demo prints the folder it ran in: the picture would show it.")
    PICTURE.parent.mkdir(exist_ok=True)
    PICTURE.write_text(
        drawn(printed, title=" ".join(("loosehand", *WORDS))), encoding="utf-8", newline="\n"
    )


if __name__ == "__main__":
    main()
