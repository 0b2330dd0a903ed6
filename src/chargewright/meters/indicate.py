"""From what is true between the probes to what the display may show, for n machines at once.

A meter's error is one rectangle (the maker's limit, percent plus counts: nothing says where
inside it this meter lies, GUM 4.3.7) and one normal part (leads, contacts, roll-off).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.errors import InputError
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.card import FunctionCard, MeterCard, temperature_factor

Flags = NDArray[np.bool_]

COMFORT_C = 23.0
# The corner of a real meter is known to about a factor; a third of the loss is doubtful (assumed).
ROLL_OFF_DOUBT = 1.0 / 3.0
# Some megohms (damp, dirt, fingers on the tips) read as open to a technician, who may write
# the figure down or call it OL: evens (assumed).
OPEN_FROM_OHM = 5e6
CALLED_OPEN = 0.5
# On a meter set by hand OL may only mean that the range was too low: evens between "went up
# to the top" and "stayed on some lower range" (assumed).
STAYED_LOW = 0.5
NEAR_OPEN = 0.95  # share of the open-circuit voltage from which a diode test shows OL (assumed)
HUGE = 1e12  # stands for an infinite reading: far above every range


@dataclass(frozen=True, slots=True, kw_only=True)
class Indication:
    """What the display would show: arrays (n,), in V, ohm or A.

    ``centre`` +- ``half_width`` (rectangular), ``sigma`` (normal, standard deviation), ``lsd``
    (last digit of the range the truth falls in), ``over`` (beyond the highest range).
    ``tops`` lists where OL may begin and how likely each is; the shares sum to one.
    """

    function: Function
    centre: Array
    half_width: Array
    sigma: Array
    lsd: Array
    over: Flags
    tops: tuple[tuple[float, float], ...]

    def spread(self, beside: Array | float = 0.0) -> Array:
        """Return the standard deviation (n,) of the display, with that of ``beside`` (n,) on top.

        The rectangular part counts as a third of its half-width squared (JCGM 100:2008, 4.3.7).
        """
        return np.asarray(np.sqrt(self.half_width**2 / 3.0 + self.sigma**2 + beside**2))


def indicate_volts(
    card: MeterCard,
    function: Function,
    *,
    dc: Array,
    ac_true_rms: Array,
    ac_average: Array,
    frequency_hz: Array,
    source_ohm: Array | float = 0.0,
    temp_c: float = COMFORT_C,
    lsd: float | None = None,
) -> Indication:
    """Return what a voltmeter shows; arguments are columns (n,) of ``circuit`` signals.

    AC is taken without its mean (AC-coupled), as true rms or 1.1107 x mean|v| by the card,
    through one pole 1/sqrt(1 + (f/fc)^2). ``source_ohm`` [ohm] loads the source with the
    meter's input resistance. ``lsd`` is the place typed, where a hand-set range is to follow it.

    Raises:
        InputError: ``function`` is not DC or AC volts, or the meter lacks it.
    """
    _expect(function, (Function.DC_V, Function.AC_V))
    spec = card.function(function)
    loading = 1.0 / (1.0 + np.asarray(source_ohm, dtype=np.float64) / spec.input_ohm)
    if function is Function.DC_V:
        return _indication(function, spec, dc * loading, temp_c=temp_c, lsd=lsd)
    true = (ac_average if spec.average_responding else ac_true_rms) * loading
    kept = 1.0 / np.sqrt(1.0 + (frequency_hz / spec.bandwidth_hz) ** 2)
    doubt = ROLL_OFF_DOUBT * (1.0 - kept) * true
    beyond = frequency_hz > spec.spec_max_hz
    return _indication(
        function, spec, true * kept, sigma=doubt, beyond=beyond, temp_c=temp_c, lsd=lsd
    )


def indicate_ohms(
    card: MeterCard,
    volts: Array,
    amps: Array,
    *,
    nulled: bool,
    temp_c: float = COMFORT_C,
    lsd: float | None = None,
) -> Indication:
    """Return what an ohmmeter shows for ``volts`` [V] across its tips at ``amps`` [A], both (n,).

    Leads not nulled add their resistance and its doubt. Nulled, only the contacts scatter,
    but the counts term enters a second time, from the null itself, unless the card says
    that nulling removes it: the cautious reading of a maker's limit.
    """
    spec = card.function(Function.OHM)
    with np.errstate(divide="ignore", invalid="ignore"):
        ohm = np.abs(volts) / np.maximum(amps, 0.0)
    if not nulled:
        ohm = ohm + spec.lead_ohm
    shown = _indication(Function.OHM, spec, ohm, temp_c=temp_c, lsd=lsd)
    variance = (spec.contact_ohm_u if nulled else spec.lead_ohm_u) ** 2
    if nulled and not spec.null_removes_offset:
        lowest = spec.usable(lsd)[0]  # the range on which leads are touched together
        variance += (lowest.counts * lowest.lsd) ** 2 / 3.0
    sigma = np.full_like(shown.centre, np.sqrt(variance))
    return Indication(
        function=Function.OHM,
        centre=shown.centre,
        half_width=shown.half_width,
        sigma=sigma,
        lsd=shown.lsd,
        over=shown.over,
        tops=_ohm_tops(spec),
    )


def indicate_diode(
    card: MeterCard, volts: Array, amps: Array, *, temp_c: float = COMFORT_C
) -> Indication:
    """Return what the diode test shows for ``volts`` [V] at ``amps`` [A], both (n,).

    OL above the range, or close to the test source's open-circuit voltage.
    """
    spec = card.function(Function.DIODE)
    top = min(spec.top, NEAR_OPEN * spec.test_source.open_v)
    # with no current at all the tips stand at the open-circuit voltage, whatever rounding left
    seen = np.where(amps > 0.0, volts, np.maximum(volts, spec.test_source.open_v))
    shown = _indication(Function.DIODE, spec, seen, temp_c=temp_c, lsd=None)
    return Indication(
        function=Function.DIODE,
        centre=shown.centre,
        half_width=shown.half_width,
        sigma=shown.sigma,
        lsd=shown.lsd,
        over=seen > top,
        tops=((top, 1.0),),
    )


def indicate_amps(
    card: MeterCard,
    function: Function,
    dc: Array,
    *,
    source_ohm: Array | float | None = None,
    temp_c: float = COMFORT_C,
    lsd: float | None = None,
) -> Indication:
    """Return what an ammeter in series or a DC clamp shows for ``dc`` [A], shape (n,).

    ``source_ohm`` [ohm] is the resistance of the loop that a series meter's burden joins;
    without it the burden is left out.
    """
    _expect(function, (Function.DC_A, Function.CLAMP_A))
    spec = card.function(function)
    amps = dc
    if function is Function.DC_A and source_ohm is not None:
        amps = dc * (source_ohm / (source_ohm + spec.burden_ohm))
    zero_u = spec.zero_u_a if function is Function.CLAMP_A else 0.0
    return _indication(function, spec, amps, sigma=zero_u, temp_c=temp_c, lsd=lsd)


def _indication(
    function: Function,
    spec: FunctionCard,
    centre: Array,
    *,
    sigma: Array | float = 0.0,
    beyond: Flags | None = None,
    temp_c: float,
    lsd: float | None,
) -> Indication:
    """Return the display's distribution round ``centre`` (n,) on the range that fits it.

    ``beyond`` (n,) marks rows outside the frequency band that ``percent`` is stated for. A row
    that is not a number (a circuit without a steady state) stays one: only a blunder explains it.
    """
    full_scale, place, percent, counts = spec.columns(lsd)
    centre = np.clip(centre, -HUGE, HUGE)
    index = np.searchsorted(full_scale, np.abs(centre), side="left")
    over = index == full_scale.size
    index = np.minimum(index, full_scale.size - 1)
    share = percent[index]
    if beyond is not None and spec.percent_above_spec_hz is not None:
        share = np.where(beyond, np.maximum(share, spec.percent_above_spec_hz), share)
    limit = share / 100.0 * np.abs(centre) + counts[index] * place[index]
    return Indication(
        function=function,
        centre=centre,
        half_width=limit * temperature_factor(temp_c),
        sigma=np.broadcast_to(np.asarray(sigma, dtype=np.float64), centre.shape),
        lsd=place[index],
        over=over,
        tops=((spec.top, 1.0),),
    )


def _ohm_tops(spec: FunctionCard) -> tuple[tuple[float, float], ...]:
    if spec.autorange:
        if spec.top <= OPEN_FROM_OHM:
            return ((spec.top, 1.0),)
        return ((OPEN_FROM_OHM, CALLED_OPEN), (spec.top, 1.0 - CALLED_OPEN))
    lower = spec.ranges[:-1]
    if not lower:
        return ((spec.top, 1.0),)
    each = STAYED_LOW / len(lower)
    return (*((one.full_scale, each) for one in lower), (spec.top, 1.0 - STAYED_LOW))


def _expect(function: Function, allowed: tuple[Function, ...]) -> None:
    if function not in allowed:
        words = " or ".join(one.value for one in allowed)
        raise InputError(f"meter function {function.value!r}: expected {words}")
