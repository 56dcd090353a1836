"""Roll geometry of a mill: openings, escribed volume, filling ratio, reabsorption, loading.

The one place for these formulas: the milling station, the setting calculation and the checks use
them. Volumes per time are at the rolls' own running hours. Setting a mill is work for licensed
people on an isolated and locked mill; these formulas only give figures.
"""

from __future__ import annotations

import math

from ratoon.base.maths import Quantity

FIBRE_DENSITY, JUICE_DENSITY = 1530.0, 1070.0  # [kg/m3] without voids, from memory


def mean_diameter(outside_diameter: Quantity, groove_depth: Quantity) -> Quantity:
    """Mean diameter of a grooved roll [m]; source [MillCourse], seen.

    Examples
    --------
    A roll of 970 mm with grooves of 70 mm; worked by hand.

    >>> round(1000 * mean_diameter(0.970, 0.070))  # mm
    900
    """
    return outside_diameter - groove_depth


def surface_speed(mean_diameter: Quantity, speed: Quantity) -> Quantity:
    """Speed of the roll surface [m/s] at a speed of rotation [1/s]; common practice.

    Examples
    --------
    A roll of 900 mm at 4 rev/min; worked by hand.

    >>> round(60 * surface_speed(0.900, 4 / 60), 2)  # m/min
    11.31
    """
    return math.pi * mean_diameter * speed


def rotation(mean_diameter: Quantity, surface_speed: Quantity) -> Quantity:
    """Speed of rotation [1/s] of a roll with a surface speed [m/s].

    Examples
    --------
    The roll of `surface_speed` again; worked by hand.

    >>> round(60 * rotation(0.900, 11.31 / 60), 2)  # rev/min
    4.0
    """
    return surface_speed / (math.pi * mean_diameter)


def escribed_volume(
    work_opening: Quantity, roll_length: Quantity, surface_speed: Quantity
) -> Quantity:
    """Volume that a pair of rolls sweeps [m3/s].

    Parameters
    ----------
    work_opening : between mean diameters, with the lift [m]. roll_length : [m].
    surface_speed : [m/s].

    Notes
    -----
    Common practice.

    Examples
    --------
    >>> round(escribed_volume(0.047, 2.134, 0.250), 5)
    0.02507
    """
    return work_opening * roll_length * surface_speed


def compaction(fibre: Quantity, escribed_volume: Quantity) -> Quantity:
    """Fibre [kg/s] in the volume that the rolls escribe [kg/m3]; common practice.

    Examples
    --------
    67.4 t of fibre an hour through 0.02507 m3/s; worked by hand.

    >>> round(compaction(67.4 / 3.6, 0.02507))  # kg/m3
    747
    """
    return fibre / escribed_volume


def filling_ratio(
    fibre: Quantity, escribed_volume: Quantity, fibre_density: Quantity = FIBRE_DENSITY
) -> Quantity:
    """Volume of the fibre itself over the volume escribed [-].

    Parameters
    ----------
    fibre : through the mill [kg/s]. escribed_volume : [m3/s].

    Notes
    -----
    Source: [MurryHolt1967], from memory.

    Examples
    --------
    The same mill; worked by hand.

    >>> round(filling_ratio(67.4 / 3.6, 0.02507), 3)
    0.488
    """
    return fibre / (fibre_density * escribed_volume)


def no_void_density(
    fibre: Quantity,
    fibre_density: Quantity = FIBRE_DENSITY,
    juice_density: Quantity = JUICE_DENSITY,
) -> Quantity:
    """Density of bagasse without voids [kg/m3], fibre on bagasse [kg/kg]; exact mixing.

    Examples
    --------
    >>> round(no_void_density(0.36), 1)
    1199.9
    """
    return 1.0 / (fibre / fibre_density + (1.0 - fibre) / juice_density)


def no_void_volume(
    fibre: Quantity,
    rest: Quantity,
    fibre_density: Quantity = FIBRE_DENSITY,
    juice_density: Quantity = JUICE_DENSITY,
) -> Quantity:
    """Volume of bagasse without voids [m3/s] from its fibre and all the rest of it [kg/s].

    Examples
    --------
    >>> round(0.36 / no_void_volume(0.36, 0.64) / 0.36, 1)
    1199.9
    """
    return fibre / fibre_density + rest / juice_density


def reabsorption_factor(
    compaction: Quantity,
    fibre: Quantity,
    fibre_density: Quantity = FIBRE_DENSITY,
    juice_density: Quantity = JUICE_DENSITY,
) -> Quantity:
    """No-void volume of delivered bagasse over the volume the rolls escribe [-].

    Parameters
    ----------
    compaction : fibre per escribed volume [kg/m3]. fibre : on bagasse [kg/kg].

    Notes
    -----
    Authors differ in what they call by this name; here it is the one of [MurryHolt1967], from
    memory: above 1 bagasse leaves faster than the roll surface.

    Examples
    --------
    >>> round(reabsorption_factor(520.0, 0.34), 3)
    1.283
    """
    return compaction / (fibre * no_void_density(fibre, fibre_density, juice_density))


def fibre_from_filling(
    filling_ratio: Quantity,
    reabsorption: Quantity,
    fibre_density: Quantity = FIBRE_DENSITY,
    juice_density: Quantity = JUICE_DENSITY,
) -> Quantity:
    """Fibre on bagasse [kg/kg] from filling ratio and reabsorption factor [-].

    Examples
    --------
    >>> round(fibre_from_filling(0.45, 1.25), 4)
    0.4458
    """
    ratio = juice_density / fibre_density
    return 1.0 / (1.0 + (reabsorption / filling_ratio - 1.0) * ratio)


def work_opening(
    fibre: Quantity, compaction: Quantity, roll_length: Quantity, surface_speed: Quantity
) -> Quantity:
    """Delivery work opening for a compaction [m].

    Parameters
    ----------
    fibre : through the mill [kg/s]. compaction : wanted [kg/m3]. roll_length : [m].
    surface_speed : [m/s].

    Notes
    -----
    Common practice; compactions are the mill's own records, no source gives them.

    Examples
    --------
    >>> round(1000 * work_opening(18.73, 740.0, 2.134, 0.250), 1)  # mm
    47.4
    """
    return fibre / (compaction * roll_length * surface_speed)


def feed_opening(mill_ratio: Quantity, delivery_opening: Quantity) -> Quantity:
    """Feed work opening [m] from mill ratio and delivery opening [m]; [MillCourse], seen.

    Examples
    --------
    A mill ratio of 2.0 over 47 mm; worked by hand.

    >>> round(1000 * feed_opening(2.0, 0.047))  # mm
    94
    """
    return mill_ratio * delivery_opening


def set_opening(work_opening: Quantity, lift: Quantity, groove_depth: Quantity) -> Quantity:
    """Opening at which the rolls are set at standstill [m]; it may be negative.

    Parameters
    ----------
    work_opening : between mean diameters, with the lift [m]. lift : of the top roll, at this
        opening [m]. groove_depth : of each of the two rolls [m], alike.

    Notes
    -----
    Work opening less lift less half the groove depth on each roll. Source: [MillCourse], seen.

    Examples
    --------
    >>> round(1000 * set_opening(0.047, 0.010, 0.035), 1)  # mm
    2.0
    """
    return work_opening - lift - groove_depth


def torque(power: Quantity, rotation: Quantity) -> Quantity:
    """Torque at the top roll [N.m] from shaft power [W] and speed of rotation [1/s].

    Examples
    --------
    500 kW at 4 rev/min; worked by hand.

    >>> round(torque(500e3, 4 / 60) / 1e3)  # kN.m
    1194
    """
    return power / (2.0 * math.pi * rotation)


def fibre_volume(
    mean_diameter: Quantity, roll_length: Quantity, rotation: Quantity, opening: Quantity
) -> Quantity:
    """Volume swept by the rolls by the Java method [m3/s].

    Parameters
    ----------
    mean_diameter, roll_length, opening : [m]. rotation : [1/s].

    Notes
    -----
    pi D L n h. Source: [JavaMethod], seen.

    Examples
    --------
    Rolls of 9.0 by 18.3 dm, 240 revolutions an hour, 0.40 dm apart; the method
    is [JavaMethod]'s, the figures are ours.

    >>> round(1e3 * 3600 * fibre_volume(0.90, 1.83, 240 / 3600, 0.040))  # dm3/h
    49672
    """
    return math.pi * mean_diameter * roll_length * rotation * opening


def preparation_index(bulk_density: Quantity) -> Quantity:
    """Preparation index [-] from the bulk density of prepared cane of 15 % fibre [kg/m3].

    Source [TradeArticle], seen; 400 to 700 kg/m3.

    Examples
    --------
    [TradeArticle], seen: 78.05 % at 600 kg/m3.

    >>> round(100 * preparation_index(600.0), 1)  # %
    78.1
    """
    return 0.445 + 0.001678 * (bulk_density - 400.0)
