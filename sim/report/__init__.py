"""From results to pages that people read."""

import logging

logging.getLogger("matplotlib").setLevel(logging.ERROR)  # it complains where it has no home to keep its fonts in
