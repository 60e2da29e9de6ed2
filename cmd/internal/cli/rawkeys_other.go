//go:build !linux && !darwin && !windows

package cli

import (
	"errors"
	"os"
)

func makeRaw(*os.File) (func(), error) {
	return nil, errors.New("single keys are not read on this system")
}
