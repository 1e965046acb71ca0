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
		case "init", "open", "demo", "man", "verify", "notebooks", "release":
			cmd.ValidArgsFunction = completeFolders
		case "evidence": // a file
		default:
			cmd.ValidArgsFunction = cobra.NoFileCompletions
		}
	}
	root.InitDefaultCompletionCmd()
	root.InitDefaultHelpCmd()
	for _, cmd := range root.Commands() {
		if cmd.Name() == "completion" {
			cmd.Short = "print a shell's script of completions"
			cmd.Args = arguments(cobra.NoArgs)
			cmd.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
		}
		if cmd.Name() == "help" {
			cmd.Short = "say more about a command"
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
