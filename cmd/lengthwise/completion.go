package main

import (
	"github.com/spf13/cobra"

	"lengthwise/schemas"
)

// complete tells shells what may stand where, and gives the command that prints
// their scripts the exit codes of the others.
func complete(root *cobra.Command) {
	if err := root.MarkPersistentFlagFilename("study", "yaml", "yml"); err != nil {
		panic(err) // the flag is defined above the call
	}
	for _, cmd := range root.Commands() {
		switch cmd.Name() {
		case "tables":
			cmd.ValidArgsFunction = completeTables
		case "init", "open", "demo", "man", "verify":
			cmd.ValidArgsFunction = completeFolders
		default:
			cmd.ValidArgsFunction = cobra.NoFileCompletions
		}
	}
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		if cmd.Name() == "completion" {
			cmd.Args = arguments(cobra.NoArgs)
			cmd.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
		}
	}
}

func completeTables(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var names []string
	for _, d := range schemas.Tables() {
		names = append(names, cobra.CompletionWithDesc(d.Name, d.About))
	}
	return names, cobra.ShellCompDirectiveNoFileComp
}

func completeFolders(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return nil, cobra.ShellCompDirectiveFilterDirs
}
