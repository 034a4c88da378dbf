"""The README says what the program does."""

from estate.cli import main
from tests.readme import README, filled


def test_reference_sections_are_those_of_the_program():
    text = README.read_text(encoding="utf-8")
    assert filled(text) == text, "run `python -m tests.readme`"


def test_every_command_has_help_and_a_place():
    text = README.read_text(encoding="utf-8")
    for name, command in main.commands.items():
        assert command.help, name
        assert f"$ estate {name} --help" in text


def test_it_opens_with_the_job():
    paragraph = README.read_text(encoding="utf-8").split("\n\n")[1]
    for word in ("routes", "cameras", "recorder", "voltage", "mains", "audit", "plan"):
        assert word in paragraph
