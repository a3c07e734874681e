module faults

go 1.26.0
