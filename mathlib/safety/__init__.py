"""Physics of who could be hurt: limits of exposure, distances, filters, smoke.

Every number here holds for the exposure and the assumptions that stand beside it. Local law and a
qualified person decide, not this library.
"""
