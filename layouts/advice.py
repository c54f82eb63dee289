"""What a plan advises: frozen values, in SI (widths and bores in mm, temperatures in °C, volumes in mL).

Everything here is worked out for the loop as routed, by `layouts.advise`. A *wanted flow* is the flow that the
file asks for, or the flow reached where it asks for none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class PumpRating:
    """One pump of the file on this loop, at its most speed.

    Parameters
    ----------
    name : str
    used : bool
        Whether the panel is made for it.
    obstacles : tuple of str
        Why it does not fit, one sentence each; empty where it fits.
    flow_m3_s, head_m : float
        Where its curve meets the loop's, with its own bores, [m3/s], [m].
    band : float
        Relative band of that flow, [-].
    head_margin_m : float or None
        Head that it has at the wanted flow over what the loop asks there, [m]; None without a wanted flow in
        the file.
    hydraulic_w : float
        Power given to the coolant, [W].
    electric_w : float or None
        [W]; None where the file does not say.
    inlet_spare_m : float or None
        Head available at its inlet over what it needs, [m]: of the used pump at the speed at which it runs, of
        another at its most within the allowed noise; None where the file gives no need.
    speed_for_flow_rpm : float or None
        Least speed, in steps in which the file may be written, that gives the wanted flow, [rpm]; None without a
        speed range, without a wanted flow, or where it is out of its range.
    power_at_flow_w : float or None
        Electric, at that speed, [W].
    speed_for_noise_rpm : float or None
        Most speed, in the same steps, within the noise that the file allows, [rpm].
    flow_for_noise_m3_s : float or None
        Flow at that speed, [m3/s].
    margin_for_noise_m : float or None
        Head margin at that speed, [m].
    shortfall : str or None
        How the flow within the noise falls short of the wanted, in one clause; among the obstacles only where
        the flow's band does not reach the wanted flow.
    move : str or None
        Why it would be placed anew, in one clause; its flow is then that at the present place.
    band_for_noise : float or None
        Relative band of the flow within the noise, [-].
    """

    name: str
    used: bool
    obstacles: tuple[str, ...]
    flow_m3_s: float
    head_m: float
    band: float
    head_margin_m: float | None
    hydraulic_w: float
    electric_w: float | None
    inlet_spare_m: float | None
    speed_for_flow_rpm: float | None
    power_at_flow_w: float | None
    speed_for_noise_rpm: float | None
    flow_for_noise_m3_s: float | None
    margin_for_noise_m: float | None = None
    shortfall: str | None = None
    move: str | None = None
    band_for_noise: float | None = None


@dataclass(frozen=True, slots=True)
class PumpPair:
    """Two of one pump on this loop: where their joint curve meets it."""

    name: str
    joined: Literal["series", "parallel"]
    flow_m3_s: float
    head_m: float
    hydraulic_w: float


@dataclass(frozen=True, slots=True)
class Pumping:
    """The pumps of the file, the best first; `reason` says in one sentence why the first stands there."""

    ratings: tuple[PumpRating, ...]
    pairs: tuple[PumpPair, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class ChannelSize:
    """What width a channel needs at its depth, and what widening would gain.

    Least width, widest and gain are of this channel alone, the others as they are.

    Parameters
    ----------
    channel : str
    width_mm : float
        As routed.
    least_mm : float or None
        Narrowest that can be made, at which coolant stays under the hard limit of speed at the flow reached,
        and the pump still pushes the wanted flow round the loop, to within a tenth of the flow's band (95 % of
        the flow reached where none is wanted, or more than the pump reaches); None where no width within the
        panel does. The flow alone never asks for more than the width as routed.
    recommended_mm : float or None
        Narrowest that also keeps the file's most velocity and beyond which a millimetre more gains next to
        nothing; wider, up to the width as routed, where the loop with all channels as recommended would fall
        short of the wanted flow.
    widest_mm : float
        As wide as the walls allow on this route, [mm].
    gain : float
        Relative growth of the loop's flow if the channel were that wide, [-].
    """

    channel: str
    width_mm: float
    least_mm: float | None
    recommended_mm: float | None
    widest_mm: float
    gain: float


@dataclass(frozen=True, slots=True)
class Sizing:
    """The widths of all channels.

    Parameters
    ----------
    channels : tuple of ChannelSize
    flow_m3_s : float or None
        Of the loop with every channel as wide as recommended, those without such a width as they are, [m3/s];
        None where there is none.
    """

    channels: tuple[ChannelSize, ...]
    flow_m3_s: float | None


@dataclass(frozen=True, slots=True)
class Restrictor:
    """What evens one branch of a parallel group: an orifice in its inlet fitting, or a narrower channel."""

    part: str
    orifice_mm: float
    channel_mm: float | None


@dataclass(frozen=True, slots=True)
class GroupBalance:
    """Flows through the branches of a parallel group, and what would even them.

    Parameters
    ----------
    branches : tuple of tuple of str
        Parts of each branch, in flow order.
    flows_m3_s : tuple of float
        Of each branch, [m3/s].
    spread : float
        (largest - smallest) / mean, [-].
    restrictors : tuple of Restrictor
        For the branches with too much flow; empty where the group is even enough, or where no bore evens it.
    even_flows_m3_s : tuple of float
        With the restrictors, [m3/s].
    even_spread : float
        Of those flows, as calculated, [-].
    even_loop_flow_m3_s : float
        Flow of the whole loop with the restrictors, [m3/s].
    even_spread_most : float
        Largest spread with all restrictors' losses at either end of the orifice formula's band, [-]; that of
        `even_spread` where there are none.
    """

    branches: tuple[tuple[str, ...], ...]
    flows_m3_s: tuple[float, ...]
    spread: float
    restrictors: tuple[Restrictor, ...]
    even_flows_m3_s: tuple[float, ...]
    even_spread: float
    even_loop_flow_m3_s: float
    even_spread_most: float = 0.0


@dataclass(frozen=True, slots=True)
class HeatStep:
    """Coolant before and behind one part, [°C]; `heat_w` is negative in a radiator."""

    part: str
    flow_m3_s: float
    heat_w: float
    inlet_c: float
    outlet_c: float


@dataclass(frozen=True, slots=True)
class Heating:
    """Heat round the loop in steady state.

    Parameters
    ----------
    steps : tuple of HeatStep
        In flow order from the pump.
    tank_c : float
        Coolant in the tank, [°C].
    spread_k : float
        Warmest less coolest coolant in the loop, [K].
    heat_w : float
        Of all parts, with the pump's hydraulic power, [W].
    over_ambient_k : float or None
        Coolant in the tank over the air around, where radiators have a capacity, [K].
    closes : bool
        Whether the radiators' capacity closes the balance; else the temperature of the file is taken for the
        tank and the radiators for whatever takes all heat away.
    order_effect_k : float or None
        Most that any part's inlet would change with another order of the series steps, [K]; None where there
        is no other order.
    tank_effect : str
        The sentence on tank size, with numbers.
    kept_w : float
        Heat that nothing in the file takes away, [W]; where it is over 0 there is no steady state, and the steps
        tell how the coolant warms on its way from a tank at the file's temperature.
    """

    steps: tuple[HeatStep, ...]
    tank_c: float
    spread_k: float
    heat_w: float
    over_ambient_k: float | None
    closes: bool
    order_effect_k: float | None
    tank_effect: str
    kept_w: float = 0.0


@dataclass(frozen=True, slots=True)
class Feeding:
    """Whether the pump's inlet stays in coolant; lengths in mm, heads in m, volumes in mL, angles in deg.

    Parameters
    ----------
    cover_mm : float or None
        Coolant over the middle of the tank's outlet at the cold level, 0 where it stands no higher; None for a
        separate tank or a panel that lies flat.
    needs_mm : float or None
        Submergence by the Hydraulic Institute's formula, an upper bound.
    tilt_left_deg, tilt_right_deg, tilt_front_deg, tilt_back_deg : float or None
        How far the panel may be tilted that way before the outlet is bare at the cold level.
    available_head_m : float or None
        Head at the pump's inlet over the coolant's vapour pressure; None where that is not known.
    least_head_m : float or None
        What the used pump asks for.
    growth_ml, room_ml : float or None
        Growth of all coolant from 20 to 60 °C, and the room over the cold level.
    tank_ml, loop_ml : float
        Tank up to its cold level; channels with the bores into them, and parts and hoses as far as the
        file gives their volume.
    unknown_parts : tuple of str
        Parts whose volume the file does not give ("hoses" with them).
    """

    cover_mm: float | None
    needs_mm: float | None
    tilt_left_deg: float | None
    tilt_right_deg: float | None
    tilt_front_deg: float | None
    tilt_back_deg: float | None
    available_head_m: float | None
    least_head_m: float | None
    growth_ml: float | None
    room_ml: float | None
    tank_ml: float
    loop_ml: float
    unknown_parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Advised:
    """All advice on one plan; `flow_as_sized_m3_s` is that of `Sizing`."""

    pumping: Pumping
    sizes: tuple[ChannelSize, ...]
    groups: tuple[GroupBalance, ...]
    heating: Heating
    feeding: Feeding
    flow_as_sized_m3_s: float | None = None


@dataclass(frozen=True, slots=True)
class LoopCurve:
    """The head that the loop asks for at each flow, for the picture; tuples of equal length, by rising flow.

    Parameters
    ----------
    flows_m3_s : tuple of float
        From 0 to 1.2 times the largest flow of interest, [m3/s].
    heads_m : tuple of float
        Head that the loop asks for, [m].
    low_m, high_m : tuple of float
        Ends of its band, from the formulas' stated errors, [m].
    """

    flows_m3_s: tuple[float, ...]
    heads_m: tuple[float, ...]
    low_m: tuple[float, ...]
    high_m: tuple[float, ...]
