//! Sets, bottles, isolates: the verdict on each set, the rates, fill volume.
