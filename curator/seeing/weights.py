"""The judge's numbers, written by curator/learning/calibrate.py; see DEVELOPERS.md for the photos behind them."""

COUNT = {
    "bias": -0.666,
    "agree": 0.916,
    "alike": 0.515,
    "by_blobs": 0.047,
    "by_cells": -0.081,
    "by_limbs": -0.099,
    "by_marks": 0.132,
    "covered": -0.662,
    "edge": -0.267,
    "even_size": -0.661,
    "lead": 3.169,
    "loose": -0.178,
    "lots": -0.328,
    "many": -0.106,
    "odd": 0.050,
    "pairs": 0.528,
    "reach": 0.170,
    "row": -0.374,
    "size": -0.156,
    "stable": 0.244,
    "support": -0.445,
    "votes": 0.106,
    "witness": 0.522,
}

FACT = {
    "bias": -2.461,
    "agree": -0.267,
    "alike": 0.163,
    "apart": -0.244,
    "belief": 0.984,
    "chance": 1.138,
    "edge": -0.493,
    "kind_flip": 0.018,
    "kind_slide": 0.009,
    "kind_split": -0.420,
    "kind_turn": 0.391,
    "lead": 1.174,
    "loose": -0.757,
    "many": 0.213,
    "mirror": 0.370,
    "partners": 1.071,
    "row": -1.068,
    "size": 0.433,
    "two": 0.805,
    "weak": -0.508,
    "witness": 0.407,
}

FACT_SURE = 0.884  # 245 photos (photos and photos-rendered and photos-published), none wrong above it when judged without its own source
OFFER = 0.06
