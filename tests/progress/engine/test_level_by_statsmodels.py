"""The filter against statsmodels, year by year, on the flow of the Nile."""

import numpy as np
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from tests.progress.engine.test_level import DOORS, NILE, filtered


@pytest.mark.parametrize(("forecast", "update"), DOORS)
def test_every_level_of_the_nile_is_that_of_statsmodels(forecast, update):
    model = UnobservedComponents(np.array(NILE["data"]), "local level")
    model.ssm.initialize_known(np.array([NILE["a1"]]), np.array([[NILE["P1"]]]))
    model.loglikelihood_burn = 0
    reference = model.filter([NILE["H"], NILE["Q"]])

    likelihood, levels = filtered(forecast, update)

    assert likelihood == pytest.approx(reference.llf, abs=1e-6)
    assert [level.mean for level in levels] == pytest.approx(reference.filtered_state[0], abs=1e-6)
