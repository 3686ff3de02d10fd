//! What the trainer's desk shows, worked out from histories and sets.
