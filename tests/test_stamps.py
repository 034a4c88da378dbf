"""What must be said with a result where the settings ask less than they do by default."""

import pytest

from estate.output.stamps import separation_stamps
from estate.settings import LimitsSection


def test_nothing_is_stamped_by_default():
    assert list(separation_stamps(LimitsSection())) == []


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        (LimitsSection(separation_safety="none"), "safety separation is switched off"),
        (LimitsSection(separation="pairs-2000"), "superseded table"),
    ],
)
def test_a_relaxed_rule_is_stamped(limits, said):
    (stamp,) = separation_stamps(limits)
    assert said in stamp
