"""The README's reference sections, made from the program. Run as `python -m tests.readme` to bring them up to date."""

import re
from dataclasses import fields
from pathlib import Path

from click.testing import CliRunner

from estate.cli import main
from estate.settings import Settings
from estate.survey.fields import reference_page

README = Path(__file__).parents[1] / "README.md"


def commands() -> str:
    """Every command with its help."""
    texts = []
    for name in main.commands:
        shown = CliRunner().invoke(main, [name, "--help"], prog_name="estate", terminal_width=100).output
        texts.append(f"```text\n$ estate {name} --help\n{shown.strip()}\n```")
    return "<details><summary>All commands and options</summary>\n\n" + "\n\n".join(texts) + "\n\n</details>"


def layers() -> str:
    """Every layer with its columns."""
    page = re.sub(r"^# .*\n+", "", reference_page()).replace("\n## ", "\n### ").replace("## ", "### ", 1)
    page = re.sub(r"#### ?", "### ", page)
    return f"<details><summary>All layers and columns</summary>\n\n{page.strip()}\n\n</details>"


def settings() -> str:
    """Every key of estate.toml."""
    rows = ["| key | default | meaning |", "|---|---|---|"]
    for slot in fields(Settings):
        section = getattr(Settings(), slot.name)
        if not hasattr(section, "__dataclass_fields__"):
            continue
        for key in fields(section):
            default, choices = getattr(section, key.name), key.metadata["choices"]
            shown = "" if default in (None, "", (), {}) else f"`{default}`"
            allowed = f" ({', '.join(choices)})" if choices else ""
            rows.append(f"| `[{slot.name}] {key.name}` | {shown} | {key.metadata['doc']}{allowed} |")
    rows.append("| `[catalogue]` | | extra or replacing entries |")
    rows.append("| `[assume]` | | `layer.column = value` for blanks; marked assumed in every table |")
    return "<details><summary>All settings of estate.toml</summary>\n\n" + "\n".join(rows) + "\n\n</details>"


def filled(text: str) -> str:
    """The README with its reference sections as the program has them."""
    for name, section in (("commands", commands()), ("layers", layers()), ("settings", settings())):
        pattern = re.compile(rf"(<!-- {name} -->\n).*?(<!-- /{name} -->)", re.DOTALL)
        text = pattern.sub(lambda m, body=section: f"{m[1]}{body}\n{m[2]}", text)
    return text


if __name__ == "__main__":
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")
