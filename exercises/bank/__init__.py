"""The exercise bank: a package a lesson, a module an exercise."""
