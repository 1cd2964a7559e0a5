"""Print a command of the README: the line under the marker ``<!-- command: NAME -->``."""

import re
import sys
from pathlib import Path


def readme_command(name: str, readme: Path) -> str:
    """Return the one-line command that stands in the code block after the marker."""
    pattern = rf"<!-- command: {re.escape(name)} -->\s*```sh\n(.+)\n```"
    found = re.search(pattern, readme.read_text(encoding="utf-8"))
    if found is None:
        raise SystemExit(f"README.md holds no command marked {name!r}")
    return found.group(1)


if __name__ == "__main__":
    print(readme_command(sys.argv[1], Path(__file__).resolve().parent.parent / "README.md"))
