"""From a script to the record of its marks: marking, gradebook, marks by hand, later changes, explanations."""
