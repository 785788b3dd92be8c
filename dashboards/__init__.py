"""The screens: pages named for the question that they answer, served on this machine only."""
