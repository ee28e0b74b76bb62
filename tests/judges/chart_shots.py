#!/usr/bin/env python3
"""Chart shots that OpenCV took, and line fits that numpy made of noisy ones.

    chart_shots.py SEED...       JSON on stdout

For each seed a random camera is made, bare and behind an attachment, and the two ends of a chart are projected by
cv2.projectPoints at random distances. Then noise is added to the spans and the same line is fitted by numpy.polyfit
and by numpy.linalg.lstsq, with the weights that the truth gives.

    [ { "file":    the seed as it was given,
        "pitch":   mm, "width": mm of the chart, "magnification": m,
        "series":  [ { "attachment": "none" or "glass", "p": mm, "e": mm,
                       "shots": [ [tape mm, span px], ... ] }, ... ],
        "noisy":   { "shots": [ [tape mm, span px], ... ], "pixel_error": px,
                     "polyfit": { "p", "e", "u_p", "u_e", "covariance" }, "lstsq": the same } } , ... ]
"""
import json
import sys

import cv2
import numpy as np


def main(seeds):
    json.dump([camera(seed) for seed in seeds], sys.stdout)
    print()


def camera(seed):
    dice = np.random.default_rng(int(seed.rsplit("-", 1)[-1]))
    pitch = dice.uniform(0.003, 0.009)
    width = dice.uniform(200, 900)
    p, e, m, shift = dice.uniform(12, 150), dice.uniform(-20, 120), dice.uniform(0.55, 1.6), dice.uniform(-3, 12)
    distances = np.sort(dice.uniform(900, 6000, dice.integers(3, 9)))
    distances[0], distances[-1] = 900, 6000
    series = [{"attachment": name, "p": p * scale, "e": e - forward,
               "shots": [[d, span(p * scale, e - forward, pitch, width, d)] for d in distances]}
              for name, scale, forward in (("none", 1.0, 0.0), ("glass", m, shift))]
    error = 0.7
    noisy = [[d, q + dice.normal(0, error)] for d, q in series[0]["shots"]]
    return {"file": seed, "pitch": pitch, "width": width, "magnification": m, "series": series,
            "noisy": {"shots": noisy, "pixel_error": error, "polyfit": polyfit(noisy, p, e, pitch, width, error),
                      "lstsq": lstsq(noisy, p, e, pitch, width, error)}}


def span(p, e, pitch, width, distance):
    """Both ends of the chart through the library's pinhole, which stands e before the sensor."""
    ends = np.array([[-width / 2, 0, 0], [width / 2, 0, 0]], dtype=np.float64)
    matrix = np.array([[p / pitch, 0, 2000], [0, p / pitch, 1000], [0, 0, 1]], dtype=np.float64)
    at = np.array([0, 0, distance - e], dtype=np.float64)
    points, _ = cv2.projectPoints(ends, np.zeros(3), at, matrix, None)
    return float(points[1, 0, 0] - points[0, 0, 0])


def line(noisy, p, e, pitch, width, error):
    d, q = np.array(noisy).T
    y = width / (q * pitch)
    # u(y) = y u(q)/q on the true line.
    true_y = (d - e) / p
    return d, y, true_y**2 * pitch / width * error


def told(slope, height, covariance):
    """p = 1/slope, e = -height/slope, to first order with the whole covariance matrix."""
    jacobian = np.array([[-1 / slope**2, 0], [height / slope**2, -1 / slope]])
    of = jacobian @ covariance @ jacobian.T
    return {"p": 1 / slope, "e": -height / slope, "u_p": of[0, 0]**0.5, "u_e": of[1, 1]**0.5, "covariance": of[0, 1]}


def polyfit(*shots):
    d, y, u = line(*shots)
    (slope, height), covariance = np.polyfit(d, y, 1, w=1 / u, cov="unscaled")
    return told(slope, height, covariance)


def lstsq(*shots):
    d, y, u = line(*shots)
    rows = np.stack([d / u, 1 / u], axis=1)
    (slope, height), *_ = np.linalg.lstsq(rows, y / u, rcond=None)
    return told(slope, height, np.linalg.inv(rows.T @ rows))


if __name__ == "__main__":
    main(sys.argv[1:])
