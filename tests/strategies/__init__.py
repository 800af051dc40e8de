"""Shared Hypothesis strategies, a file for each thing that is generated.

| to change | see |
|---|---|
| names, texts, numbers, levels, colours, dates | `pieces.py` |
| any vehicle or circuit | `vehicles.py` |
| any unit or lead | `units.py` |
| any stock or article | `stocks.py` |
| any job | `jobs.py` |
| any wiring or plan | `wirings.py` |
| any readings | `readings.py` |
| a job with the wiring of a careful hand, to be proven | `sound.py` |
| the same with one thing done wrong, to be breached | `sabotaged.py` |

Any valid record is for round trips and for code that must not fall over. What the last two promise
is checked in `tests/test_strategies.py`.
"""

from strategies.jobs import jobs
from strategies.readings import readings
from strategies.sabotaged import SABOTAGES, Sabotaged, sabotage_job, sabotaged_jobs
from strategies.sound import Sound, sound_jobs
from strategies.stocks import parts, stocks
from strategies.units import leads, units
from strategies.vehicles import circuits, vehicles
from strategies.wirings import plans, wirings

__all__ = [
    "SABOTAGES",
    "Sabotaged",
    "Sound",
    "circuits",
    "jobs",
    "leads",
    "parts",
    "plans",
    "readings",
    "sabotage_job",
    "sabotaged_jobs",
    "sound_jobs",
    "stocks",
    "units",
    "vehicles",
    "wirings",
]
