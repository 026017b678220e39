"""The job, one module for each question: a programme goes in, a Result comes out."""
