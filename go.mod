module github.com/isochron-imaging/isochron

go 1.26.0

require (
	codeberg.org/sbinet/npyio v0.14.0
	github.com/google/go-cmp v0.7.0
	github.com/mjibson/go-dsp v0.0.0-20180508042940-11479a337f12
	golang.org/x/sys v0.50.0
	gonum.org/v1/gonum v0.17.0
)

require (
	github.com/nlpodyssey/gopickle v0.3.0 // indirect
	golang.org/x/text v0.34.0 // indirect
	golang.org/x/tools v0.41.0 // indirect
)
