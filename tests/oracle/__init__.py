"""A slow second opinion.

Every formula the library promises, written again from the standards in plain decimal arithmetic of
60 digits, with no regard for speed. Nothing here imports groundstate and nothing here was written
from its sources, so that an agreement between the two is evidence for both.
"""
