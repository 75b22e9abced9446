"""ridelog: from a logged drive to the next damper knob and spring.

Nothing heavy is imported here; call the rooms directly, for example
``ridelog.runs.analyze`` or ``ridelog.estimate.force_balance``.
"""

__version__ = "0.1.0"
