package read

import "lengthwise/pipeline/study"

// Words that stand over a sheet's columns and mean one of ours, as headerKey
// gives them: English, German, French, Spanish, Portuguese, Italian, Dutch and
// Swedish (common practice, no source). A word that is used for two different
// things (Bahn: lane and length; lap; split; interval) is not here: the study
// file says what stands below it.
var headerWords = map[string]heading{
	"name": {column: "swimmer"}, "swimmername": {column: "swimmer"}, "athlete": {column: "swimmer"}, "athletename": {column: "swimmer"},
	"schwimmer": {column: "swimmer"}, "schwimmerin": {column: "swimmer"}, "athlet": {column: "swimmer"}, "athletin": {column: "swimmer"},
	"nageur": {column: "swimmer"}, "nageuse": {column: "swimmer"}, "nom": {column: "swimmer"}, "nadador": {column: "swimmer"},
	"nadadora": {column: "swimmer"}, "nombre": {column: "swimmer"}, "nome": {column: "swimmer"}, "nuotatore": {column: "swimmer"},
	"nuotatrice": {column: "swimmer"}, "atleta": {column: "swimmer"}, "zwemmer": {column: "swimmer"}, "zwemster": {column: "swimmer"},
	"naam": {column: "swimmer"}, "simmare": {column: "swimmer"}, "namn": {column: "swimmer"},

	"firstname": {column: firstNames}, "forename": {column: firstNames}, "givenname": {column: firstNames}, "vorname": {column: firstNames},
	"prenom": {column: firstNames}, "voornaam": {column: firstNames}, "fornamn": {column: firstNames},
	"lastname": {column: lastNames}, "surname": {column: lastNames}, "familyname": {column: lastNames}, "nachname": {column: lastNames},
	"familienname": {column: lastNames}, "nomdefamille": {column: lastNames}, "apellido": {column: lastNames}, "apellidos": {column: lastNames},
	"apelido": {column: lastNames}, "sobrenome": {column: lastNames}, "cognome": {column: lastNames}, "achternaam": {column: lastNames},
	"efternamn": {column: lastNames},

	"datum": {column: "date"}, "fecha": {column: "date"}, "data": {column: "date"},

	"starttime": {column: "start"}, "timeofday": {column: "start"}, "startzeit": {column: "start"}, "uhrzeit": {column: "start"},
	"beginn": {column: "start"}, "heure": {column: "start"}, "heuredebut": {column: "start"}, "hora": {column: "start"},
	"horainicio": {column: "start"}, "horadeinicio": {column: "start"}, "ora": {column: "start"}, "orainizio": {column: "start"},
	"starttijd": {column: "start"}, "starttid": {column: "start"},

	"einheit": {column: "session"}, "trainingseinheit": {column: "session"}, "seance": {column: "session"}, "sesion": {column: "session"},
	"sessao": {column: "session"}, "sessione": {column: "session"}, "sessie": {column: "session"},

	"serie": {column: "set"}, "reeks": {column: "set"},

	"repeat": {column: "rep"}, "repetition": {column: "rep"}, "wiederholung": {column: "rep"}, "wdh": {column: "rep"}, "whg": {column: "rep"},
	"repeticion": {column: "rep"}, "repeticao": {column: "rep"}, "ripetizione": {column: "rep"}, "herhaling": {column: "rep"},

	"lengthno": {column: "length"}, "lengthnumber": {column: "length"}, "lengthnr": {column: "length"},

	"distance": {column: "distance_m"}, "dist": {column: "distance_m"}, "distanz": {column: "distance_m"}, "strecke": {column: "distance_m"},
	"distancia": {column: "distance_m"}, "distanza": {column: "distance_m"}, "afstand": {column: "distance_m"}, "distans": {column: "distance_m"},
	"metres": {column: "distance_m", metres: true}, "meters": {column: "distance_m", metres: true}, "meter": {column: "distance_m", metres: true}, "metros": {column: "distance_m", metres: true},
	"yards": {column: "distance_m", yards: true},

	"poollength": {column: "pool"}, "becken": {column: "pool"}, "beckenlange": {column: "pool"}, "bassin": {column: "pool"},
	"piscine": {column: "pool"}, "piscina": {column: "pool"}, "vasca": {column: "pool"}, "bad": {column: "pool"}, "zwembad": {column: "pool"},
	"bassang": {column: "pool"}, "course": {column: "pool"},

	"style": {column: "stroke"}, "stil": {column: "stroke"}, "lage": {column: "stroke"}, "schwimmart": {column: "stroke"},
	"schwimmlage": {column: "stroke"}, "nage": {column: "stroke"}, "estilo": {column: "stroke"}, "stile": {column: "stroke"},
	"zwemslag": {column: "stroke"}, "simsatt": {column: "stroke"},

	"tempo": {column: "time"}, "zeit": {column: "time"}, "temps": {column: "time"}, "tiempo": {column: "time"}, "tijd": {column: "time"},
	"tid": {column: "time"}, "seconds": {column: "time"}, "sekunden": {column: "time"},

	"strokecount": {column: "strokes"}, "nofstrokes": {column: "strokes"}, "noofstrokes": {column: "strokes"}, "numberofstrokes": {column: "strokes"},
	"strokestotal": {column: "strokes"}, "totalstrokes": {column: "strokes"},
	"armstrokes": {column: "strokes", basis: study.Arms}, "strokecycles": {column: "strokes", basis: study.Cycles},
	"cycles": {column: "strokes", basis: study.Cycles}, "strokesperlength": {column: "strokes", mean: true},
	"strokeslength": {column: "strokes", mean: true}, "spl": {column: "strokes", mean: true}, "meanstrokes": {column: "strokes", mean: true},
	"averagestrokes": {column: "strokes", mean: true}, "avgstrokes": {column: "strokes", mean: true},
	"zuge": {column: "strokes"}, "zuege": {column: "strokes"}, "zugzahl": {column: "strokes"}, "zuganzahl": {column: "strokes"},
	"armzuge": {column: "strokes", basis: study.Arms}, "armzuege": {column: "strokes", basis: study.Arms},
	"zugeprobahn": {column: "strokes", mean: true}, "zugebahn": {column: "strokes", mean: true}, "zyklen": {column: "strokes", basis: study.Cycles},
	"coups": {column: "strokes"}, "coupsdebras": {column: "strokes", basis: study.Arms}, "cyclesdebras": {column: "strokes", basis: study.Cycles},
	"brazadas": {column: "strokes"}, "bracadas": {column: "strokes"}, "bracciate": {column: "strokes"}, "slagen": {column: "strokes"},
	"armslagen": {column: "strokes", basis: study.Arms}, "ciclos": {column: "strokes", basis: study.Cycles}, "cicli": {column: "strokes", basis: study.Cycles},
	"armtag": {column: "strokes", basis: study.Arms},

	"heartrate": {column: "hr"}, "pulse": {column: "hr"}, "puls": {column: "hr"}, "hf": {column: "hr"}, "herzfrequenz": {column: "hr"},
	"fc": {column: "hr"}, "frequencecardiaque": {column: "hr"}, "pouls": {column: "hr"}, "frecuenciacardiaca": {column: "hr"},
	"pulso": {column: "hr"}, "frequenciacardiaca": {column: "hr"}, "frequenzacardiaca": {column: "hr"}, "polso": {column: "hr"},
	"hartslag": {column: "hr"}, "bpm": {column: "hr"}, "hjartfrekvens": {column: "hr"},

	"pulsedelay": {column: "hr_delay"}, "pulsesource": {column: "hr_source"}, "heartratesource": {column: "hr_source"}, "heartratedelay": {column: "hr_delay"},

	"pause": {column: "rest"}, "pausa": {column: "rest"}, "repos": {column: "rest"}, "descanso": {column: "rest"}, "recupero": {column: "rest"},
	"recuperation": {column: "rest"}, "recup": {column: "rest"}, "recuperacion": {column: "rest"}, "recuperacao": {column: "rest"},
	"rust": {column: "rest"}, "vila": {column: "rest"}, "restbefore": {column: "rest"},
	"restafter": {column: "rest", after: true}, "pausedanach": {column: "rest", after: true}, "pausenach": {column: "rest", after: true},
	"reposapres": {column: "rest", after: true}, "descansodespues": {column: "rest", after: true}, "descansodepois": {column: "rest", after: true},
	"recuperationapres": {column: "rest", after: true}, "recupapres": {column: "rest", after: true},
	"recuperodopo": {column: "rest", after: true}, "rustna": {column: "rest", after: true}, "vilaefter": {column: "rest", after: true},

	"laktat": {column: "lactate"}, "lactato": {column: "lactate"}, "lattato": {column: "lactate"}, "lactaat": {column: "lactate"},
	"exertion": {column: "rpe"}, "borg": {column: "rpe"}, "borgcr": {column: "rpe"},
}

// tempoWords are headers of the languages in which tempo is the time.
var tempoWords = map[string]bool{"distanza": true, "distancia": true, "vasca": true, "piscina": true, "stile": true, "estilo": true,
	"atleta": true, "nuotatore": true, "nuotatrice": true, "nadador": true, "nadadora": true, "bracciate": true, "bracadas": true,
	"recupero": true, "descanso": true, "nome": true}

// beatWords are what is counted where the header says over which time.
var beatWords = map[string]bool{"beats": true, "pulsebeats": true, "pulsschlage": true, "schlage": true, "battements": true, "latidos": true,
	"battiti": true, "batimentos": true, "pulsecount": true, "hrcount": true}

// groupWords say what the numbers in the headers of a wide sheet count.
var groupWords = map[string]groupKind{
	"rep": byRep, "reps": byRep, "repeat": byRep, "repetition": byRep, "r": byRep, "wdh": byRep, "whg": byRep, "wiederholung": byRep,
	"repeticion": byRep, "repeticao": byRep, "ripetizione": byRep, "herhaling": byRep, "bout": byRep, "swim": byRep, "nr": byRep, "no": byRep,
	"set": bySet, "serie": bySet, "length": byLength, "len": byLength,
}

// strokeWords lead to the strokes by name or short form; drill is none.
var strokeWords = map[string]string{
	"freestyle": "freestyle", "free": "freestyle", "frontcrawl": "freestyle", "crawl": "freestyle", "fr": "freestyle", "fc": "freestyle",
	"freistil": "freestyle", "kraul": "freestyle", "krl": "freestyle", "nl": "freestyle", "nagelibre": "freestyle", "crol": "freestyle",
	"libre": "freestyle", "livre": "freestyle", "livres": "freestyle", "stilelibero": "freestyle", "sl": "freestyle", "libero": "freestyle",
	"borstcrawl": "freestyle", "vrijeslag": "freestyle", "vrij": "freestyle", "frisim": "freestyle", "fs": "freestyle", "fri": "freestyle",
	"backstroke": "backstroke", "back": "backstroke", "bk": "backstroke", "ba": "backstroke", "rucken": "backstroke", "ruecken": "backstroke",
	"dos": "backstroke", "espalda": "backstroke", "costas": "backstroke", "dorso": "backstroke", "rugslag": "backstroke", "rug": "backstroke",
	"ryggsim": "backstroke", "rygg": "backstroke",
	"breaststroke": "breaststroke", "breast": "breaststroke", "br": "breaststroke", "brust": "breaststroke", "brasse": "breaststroke",
	"braza": "breaststroke", "brucos": "breaststroke", "rana": "breaststroke", "schoolslag": "breaststroke", "school": "breaststroke",
	"brostsim":  "breaststroke",
	"butterfly": "butterfly", "fly": "butterfly", "bu": "butterfly", "bf": "butterfly", "delfin": "butterfly", "delphin": "butterfly",
	"schmetterling": "butterfly", "papillon": "butterfly", "pap": "butterfly", "mariposa": "butterfly", "farfalla": "butterfly",
	"delfino": "butterfly", "vlinderslag": "butterfly", "vlinder": "butterfly", "fjaril": "butterfly", "fjarilsim": "butterfly",
	"mixed": "mixed", "medley": "medley", "individualmedley": "medley", "im": "medley", "lagen": "medley", "4nages": "medley", "estilos": "medley",
	"misti": "medley", "wisselslag": "medley",
	"drill": "drill", "kick": "drill",
}

// totalWords begin a row that sums up or averages others.
var totalWords = map[string]bool{"total": true, "totals": true, "subtotal": true, "sum": true, "mean": true, "average": true, "avg": true,
	"summe": true, "gesamt": true, "zwischensumme": true, "mittelwert": true, "mittel": true, "durchschnitt": true, "schnitt": true,
	"totaux": true, "soustotal": true, "somme": true, "moyenne": true, "suma": true, "media": true, "promedio": true, "soma": true,
	"totale": true, "somma": true, "totaal": true, "som": true, "gemiddelde": true, "gemiddeld": true, "summa": true, "medel": true,
	"medelvarde": true, "median": true, "sd": true, "stdev": true}

// monthWords are the beginnings of the months' names that tell them apart.
var monthWords = map[string]int{
	"jan": 1, "ene": 1, "gen": 1, "feb": 2, "fev": 2, "fevr": 2, "mar": 3, "mrz": 3, "maerz": 3, "mrt": 3, "maa": 3, "apr": 4, "avr": 4, "abr": 4,
	"may": 5, "mai": 5, "mei": 5, "maj": 5, "mag": 5, "jun": 6, "juin": 6, "giu": 6, "jul": 7, "juil": 7, "lug": 7, "aug": 8, "aou": 8, "ago": 8,
	"sep": 9, "set": 9, "oct": 10, "okt": 10, "out": 10, "ott": 10, "nov": 11, "dec": 12, "dez": 12, "dic": 12,
}

// dayWords are days of the week by the beginnings of their names, and the
// small words in written dates. They tell nothing that the date does not.
var dayWords = map[string]bool{"mon": true, "tue": true, "wed": true, "thu": true, "fri": true, "sat": true, "sun": true,
	"mo": true, "di": true, "mi": true, "do": true, "fr": true, "sa": true, "so": true, "montag": true, "dienstag": true, "mittwoch": true,
	"donnerstag": true, "freitag": true, "samstag": true, "sonntag": true, "monday": true, "tuesday": true, "wednesday": true, "thursday": true,
	"friday": true, "saturday": true, "sunday": true, "lun": true, "lundi": true, "mardi": true, "mer": true, "mercredi": true, "jeu": true,
	"jeudi": true, "ven": true, "vendredi": true, "sam": true, "samedi": true, "dim": true, "dimanche": true, "lunes": true, "martes": true,
	"miercoles": true, "jueves": true, "viernes": true, "sabado": true, "domingo": true, "lunedi": true, "martedi": true, "mercoledi": true,
	"giovedi": true, "venerdi": true, "sabato": true, "domenica": true, "maandag": true, "dinsdag": true, "woensdag": true, "donderdag": true,
	"vrijdag": true, "zaterdag": true, "zondag": true, "ma": true, "wo": true, "za": true, "zo": true, "segunda": true, "terca": true,
	"quarta": true, "quinta": true, "sexta": true, "feira": true,
	"de": true, "of": true, "the": true, "st": true, "nd": true, "rd": true, "th": true, "den": true, "le": true, "el": true}
