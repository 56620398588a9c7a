"""Made command lines with made files: each ends with an answer or a sentence. `attack.py` throws a thousand and more."""

from __future__ import annotations

import click
from hypothesis import HealthCheck, given, settings

from reach.cli import COMMANDS
from reach.study import Study
from tests.hardening.attack import Case, run
from tests.hardening.strategies import fields, params, value_of

# What draws takes seconds a case; the script throws at that too.
QUICK = ("vet", "add", "list", "plan", "budget", "locator")


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(Case.drawn(commands_of=QUICK))
def test_made_command_lines_and_files_end_as_expected(case):
    ended = run(case)
    assert ended.as_expected, ended


def test_every_option_and_key_can_be_drawn():
    """The strategies come from the declarations: what is declared has one."""
    for name in COMMANDS:
        for param in params(name):
            if isinstance(param, click.Option) and not param.is_flag:
                assert value_of(param) is not None
    drawn = {name for name, _ in fields(Study)}
    assert set(Study.model_fields) == drawn
