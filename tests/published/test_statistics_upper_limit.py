"""The upper limit of a mean against a published example."""

import numpy as np
import pytest

from screen.stages.compare.places.statistics import t_limit


def test_student_limit_of_the_lead_data_of_beal_2010() -> None:
    """Beal 2010, lead in 29 soil samples, 10 not detected: Kaplan-Meier mean 325.3396, its standard error 315.0023."""
    limit = t_limit(np.array([325.3396]), np.array([315.0023]), np.array([29]))
    assert limit[0] == pytest.approx(861.20, abs=0.01)
