package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/run"
)

func newVersion(c *common) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "print the program's version",
		Long:  "Print the program's version, the Go release it was built with and the platform.\n\nExit codes: 0 done.",
		Args:  arguments(cobra.NoArgs),
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintf(c.stdout, "lengthwise %s, %s, %s/%s\n", run.Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
}
