"""Colours, lights and non-negative least squares by colour-science and scipy."""

import warnings

import numpy as np


def nonnegative(matrices, rights):
    """Non-negative least squares by scipy's solver of Lawson and Hanson."""
    from scipy.optimize import nnls

    return {"answers": [nnls(np.array(a), np.array(b))[0].tolist() for a, b in zip(matrices, rights)]}


def visual_densities(filters, start):
    """Visual densities of transmittances by 1 nm: V of the CIE by colour-science, illuminant A by its formula, summed by numpy."""
    warnings.filterwarnings("ignore")
    import colour

    efficiency = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    answer = []
    for values in filters:
        nm = start + np.arange(len(values))
        planck = (560.0 / nm) ** 5 / np.expm1(1.435e7 / (2848.0 * nm))
        weight = np.array([efficiency[at] for at in nm]) * planck
        answer.append(float(-np.log10((weight * np.array(values)).sum() / weight.sum())))
    return {"densities": answer}


def colours(reflectances, start, step, temperatures, luminances):
    """CIELAB under D50 of reflectances, powers of daylights at 400 to 700 nm, Munsell values, by colour-science."""
    warnings.filterwarnings("ignore")
    import colour
    from colour.notation.munsell import munsell_value_ASTMD1535

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    d50 = colour.SDS_ILLUMINANTS["D50"]
    white = np.array(colour.sd_to_XYZ(colour.sd_ones(observer.shape), observer, d50))
    answer = []
    for values in reflectances:
        nm = start + step * np.arange(len(values))
        spectrum = colour.SpectralDistribution(values, nm)
        xyz = colour.sd_to_XYZ(spectrum, observer, d50)
        answer.append(colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white / 100)).tolist())
    lights = []
    for kelvin in temperatures:
        xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
        light = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=True)
        lights.append([float(light[nm]) for nm in range(400, 701, 10)])
    values = [float(munsell_value_ASTMD1535(y)) for y in luminances]
    return {"lab": answer, "lights": lights, "munsell": values}
