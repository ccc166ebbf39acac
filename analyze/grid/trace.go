package grid

var trace = func(format string, args ...any) {}
