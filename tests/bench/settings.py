"""The settings of a studio's server, with the addresses that only `make bench` asks."""

from config.settings import *  # noqa: F403
from config.settings import MIDDLEWARE as OF_A_SERVER

ROOT_URLCONF = "tests.bench.urls"
SECOND_FACTOR = False
MIDDLEWARE = ["tests.bench.views.CountingMiddleware", *OF_A_SERVER]
