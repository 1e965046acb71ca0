package publish

import "strconv"

// The vocabularies and profiles of the crate: RO-Crate 1.1 and the Process Run
// Crate profile 0.5, which is written against it.
const (
	crateContext = "https://w3id.org/ro/crate/1.1/context"
	crateSpec    = "https://w3id.org/ro/crate/1.1"
	runTerms     = "https://w3id.org/ro/terms/workflow-run/context"
	runProfile   = "https://w3id.org/ro/wfrun/process/0.5"
)

// entity is one node of the crate's graph.
type entity map[string]any

// ref points to another entity.
func ref(id string) entity { return entity{"@id": id} }

// Crate describes the set as a Process Run Crate 0.5 on RO-Crate 1.1: its
// files, the run of the program that made them and the inputs of that run. The
// inputs are described and not contained, as they stay at home.
func Crate(p Package) ([]byte, error) {
	var parts, results, objects []entity
	var files []entity
	add := func(f PackageFile, name string) {
		files = append(files, entity{
			"@id": f.Path, "@type": "File", "name": name, "description": f.About, "encodingFormat": f.Media,
			"contentSize": strconv.FormatInt(f.Bytes, 10), "sha256": f.SHA256,
		})
		parts, results = append(parts, ref(f.Path)), append(results, ref(f.Path))
	}
	for _, t := range p.Tables {
		for _, f := range t.Files {
			f.About, f.Media = t.About, mediaParquet
			add(f, "table "+resourceName(t, f))
		}
	}
	for _, f := range p.Others {
		add(f, f.Path)
	}
	var inputs []entity
	for _, f := range p.Inputs {
		id := "#" + f.Path
		inputs = append(inputs, entity{
			"@id": id, "@type": "CreativeWork", "name": "input " + f.Path, "description": f.About,
			"sha256": f.SHA256, "contentSize": strconv.FormatInt(f.Bytes, 10),
		})
		objects = append(objects, ref(id))
	}
	program := "#program"
	graph := []entity{
		{"@id": "ro-crate-metadata.json", "@type": "CreativeWork", "conformsTo": ref(crateSpec), "about": ref("./")},
		{
			"@id": "./", "@type": "Dataset", "name": "The study " + p.Study,
			"description":   "What a squad's recordings say of stroke rate, score and cost: tables, page and the record of the run.",
			"datePublished": p.LastDate, "license": ref("#terms"), "conformsTo": ref(runProfile),
			"hasPart": parts, "mentions": ref("#run"),
		},
		{"@id": runProfile, "@type": "CreativeWork", "name": "Process Run Crate", "version": "0.5"},
		{"@id": "#terms", "@type": "CreativeWork", "name": "Terms of use", "description": p.terms()},
		{"@id": program, "@type": "SoftwareApplication", "name": "lengthwise", "version": p.Version, "softwareVersion": p.Version,
			"description": "finds out what a swimmer's stroke costs", "url": "#program"},
		{"@id": "#squad", "@type": "Organization", "name": "the squad of the study " + p.Study},
		{
			"@id": "#run", "@type": "CreateAction", "name": "lengthwise run of the study " + p.Study, "endTime": p.LastDate,
			"description": "Dated by the study's last session: the program keeps no clock, so that equal runs give equal bytes.",
			"instrument":  ref(program), "agent": ref("#squad"), "object": objects, "result": results,
			"actionStatus": ref("http://schema.org/CompletedActionStatus"),
		},
	}
	graph = append(graph, files...)
	graph = append(graph, inputs...)
	return indented(entity{"@context": []string{crateContext, runTerms}, "@graph": graph}, "crate")
}
