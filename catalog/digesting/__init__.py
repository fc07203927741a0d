"""What a log comes to, as pure functions of arrays: every figure that needs each sample of it.

Raw samples never leave the catalogue, so these figures are computed at entry and kept as digests
(`digests`); the builder reads those. Figures of typed values and of digests are the builder's.
"""
