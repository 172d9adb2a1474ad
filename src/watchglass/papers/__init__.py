"""What is printed for one formula beside its review: each paper is a pure function of what was worked out."""
