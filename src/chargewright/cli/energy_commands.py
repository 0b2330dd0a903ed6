"""The energy commands, in the order in which they are listed.

Each turns its options into one call of the energy room and writes the answer.
"""

from __future__ import annotations

from chargewright.cli.energy_battery import battery, charge, storage
from chargewright.cli.energy_machine import budget, choose_battery, drain, ride

ENERGY_COMMANDS = (battery, charge, storage, drain, budget, ride, choose_battery)
