"""Files that somebody prints: where they go, and how they get there whole."""

from __future__ import annotations

from pathlib import Path

from leaklore import whole
from leaklore.errors import LeakloreError
from leaklore.pages import printing


def place(file: Path | None, name: str) -> Path:
    """Where to write; without a word `NAME.pdf`, or `NAME.html` where nothing can print.

    Raises LeakloreError where the ending is another or the folder is missing.
    """
    if file is None:
        return Path(f"{name}.pdf" if printing.browser() else f"{name}.html")
    if file.suffix.lower() not in (".html", ".pdf"):
        raise LeakloreError(f'"{file}" ends neither in .html nor in .pdf; write -o {name}.html')
    if not file.parent.is_dir():
        raise LeakloreError(f'there is no folder "{file.parent}"; make it first')
    if file.is_dir():
        raise LeakloreError(f'"{file}" is a folder; write -o {name}.html')
    return file


def write(html: str, file: Path) -> Path:
    """Writes to `file` as `place` gave it; a file that is there is replaced at the end.

    Where a PDF was asked for and there is no Chromium it is written as .html beside, and that file is returned.
    Raises LeakloreError where neither can be, or a file is in the way that nobody named.
    """
    target = file
    if file.suffix.lower() == ".pdf" and printing.browser() is None:
        target = file.with_suffix(".html")
        if target.exists():
            raise LeakloreError(
                "a PDF needs Chromium, and there is no command `chromium`; "
                f'"{target}" is there already and stays; write -o {target.name} to replace it'
            )
    if target.suffix.lower() == ".pdf":
        data = printing.pdf(
            html, f"write -o {target.with_suffix('.html').name} and print that from any browser"
        )
    else:
        data = html.encode()
    try:
        whole.write(target, data)
    except OSError as wrong:
        raise LeakloreError(f'"{target}" can\'t be written ({wrong.strerror})') from None
    return target
