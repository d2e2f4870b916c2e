"""Tarn Hollow Works: an invented plant to try everything on. Built through the same services as a real one.

Every plant, line, room, product, tape, roller and person here is invented; likeness to a real one is chance. The
figures are chosen so that each rule of the program shows somewhere; they are not advice for any real line.
"""
