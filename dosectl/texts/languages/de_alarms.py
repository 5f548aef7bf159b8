"""German of the alarm list. Keys are the English words of its rows. Nobody untrained is sent to acid, gas or a live pump."""

TRAINED = "nur durch Eingewiesene, mit Schutzbrille und Handschuhen"
SMELL = "Wer Chlor riecht, bleibt draußen und ruft Hilfe."

TITLES = {
    "Acid and chlorine feeders ran together": "Säure- und Chlordosierung liefen zugleich",
    "A feeder ran without water flow; gas may stand in the pipe": "Dosierung lief ohne Wasserfluss; im Rohr kann Gas stehen",
    "A feeder may have run without water flow": "Dosierung lief vielleicht ohne Wasserfluss",
    "A feeder runs though it was asked off": "Eine Dosierung läuft, obwohl sie aus sein soll",
    "pH or a container falls although nothing is fed": "pH oder ein Behälter sinkt, obwohl nichts dosiert wird",
    "Whether a feeder runs can't be seen": "Ob eine Dosierung läuft, ist nicht zu sehen",
    "Another program commands a feeder": "Ein anderes Programm steuert eine Dosierung",
    "What was fed brought no change in the water": "Was dosiert wurde, wirkte im Wasser nicht",
    "Acid has used a third of the alkalinity": "Säure hat ein Drittel der Alkalität verbraucht",
    "Acid has used nearly half of the alkalinity": "Säure hat fast die Hälfte der Alkalität verbraucht",
    "pH fell far after acid was fed": "Nach der Säuredosierung fiel der pH weit",
    "Three days took far more chlorine than usual": "Drei Tage brauchten viel mehr Chlor als üblich",
    "The daily feed limit was reached two days running": "Die Tagesgrenze der Dosierung wurde zwei Tage nacheinander erreicht",
    "What is fed brings far less chlorine than it should": "Was dosiert wird, bringt viel zu wenig Chlor",
    "No chlorine could be fed for a while although water flows": "Seit einiger Zeit kein Chlor möglich, obwohl Wasser fließt",
    "No acid could be fed for a whole day of water flow": "Einen ganzen Tag Wasserfluss lang war keine Säure möglich",
    "A feeder does not run though it was asked on": "Eine Dosierung läuft nicht, obwohl sie an sein soll",
    "A container runs low": "Ein Behälter geht zur Neige",
    "A container is empty": "Ein Behälter ist leer",
    "The chlorine cell is limited by salt, scale or its current": "Die Chlorzelle ist durch Salz, Kalk oder ihren Strom begrenzt",
    "pH is below 6.5": "pH unter 6,5",
    "The chlorine cell reads more than 10 mg/L": "Die Chlormessung zeigt mehr als 10 mg/L",
    "Free chlorine is surely above the limit for bathing": "Freies Chlor liegt sicher über der Badegrenze",
    "ORP is above its limit": "Redox über der Grenze",
    "ORP rose with nothing fed": "Redox stieg, ohne dass dosiert wurde",
    "pH is above 8.2": "pH über 8,2",
    "Free chlorine is surely below half of its target": "Freies Chlor liegt sicher unter der Hälfte des Sollwerts",
    "Free chlorine is hardly known": "Freies Chlor ist kaum bekannt",
    "Free chlorine stays too low": "Freies Chlor bleibt zu niedrig",
    "Chlorine runs blind at its fall-back rate": "Chlor läuft blind mit der Ersatzmenge",
    "The water is too cold for the cell": "Das Wasser ist zu kalt für die Zelle",
    "Water near freezing": "Wasser nahe am Gefrieren",
    "The pool has asked for next to no chlorine for three days": "Das Becken verlangt seit drei Tagen fast kein Chlor",
    "Hand tests and ORP probe contradict each other": "Handtests und Redoxsonde widersprechen sich",
    "A hand test found free chlorine at or above the limit for bathing": "Handtest: freies Chlor an oder über der Badegrenze",
    "A water test by hand is far from what was believed": "Ein Wassertest von Hand liegt weit neben der Schätzung",
    "A tube, a cell or a probe has worked as long as such a part lasts": "Schlauch, Zelle oder Sonde am Ende ihrer Lebensdauer",
    "The owner is away and nobody else is called": "Der Besitzer ist fort und sonst wird niemand gerufen",
    "A water test by hand is due": "Ein Wassertest von Hand ist fällig",
    "The ORP or pH probe gives no believable reading": "Redox- oder pH-Sonde liefert keinen glaubhaften Wert",
    "A probe does not react": "Eine Sonde reagiert nicht",
    "Two probes of one kind disagree": "Zwei gleichartige Sonden widersprechen sich",
    "The probes get no fresh water": "Die Sonden bekommen kein frisches Wasser",
    "No water flow although the pump runs": "Kein Wasserfluss, obwohl die Pumpe läuft",
    "Water flow was lost again and again": "Der Wasserfluss brach immer wieder ab",
    "The flow or pump signal is missing": "Das Signal von Fluss oder Pumpe fehlt",
    "The flow switch says flow with the pump off": "Der Flussschalter meldet Fluss bei ausgeschalteter Pumpe",
    "Wrong messages keep coming on a signal's topic": "Für ein Signal kommen immer wieder falsche Nachrichten",
    "Some interlocks are off or can't judge this plant": "Manche Verriegelung ist aus oder urteilt nicht über diese Anlage",
    "The hours of flow are too few for this pool": "Zu wenige Stunden Wasserfluss für diesen Pool",
    "A feeder's node is silent": "Ein Steuermodul der Dosierung schweigt",
    "The broker or the network is lost": "Nachrichtenverteiler oder Netzwerk ausgefallen",
    "The controller restarted after a crash or power cut": "Die Steuerung startete nach Absturz oder Stromausfall neu",
    "The controller restarts often": "Die Steuerung startet häufig neu",
    "The controller restarts in a loop": "Die Steuerung startet immerfort neu",
    "An interlock failed by a defect": "Eine Verriegelung ist durch einen Programmfehler ausgefallen",
    "The controller is too slow for its messages": "Die Steuerung ist zu langsam für ihre Nachrichten",
    "A part round the controller reports a fault": "Ein Teil rund um die Steuerung meldet einen Fehler",
    "A way to call people fails": "Ein Meldeweg versagt",
    "A feeder's proof test is due": "Die Prüfung einer Dosierung ist fällig",
    "The calibration of a probe is due": "Die Kalibrierung einer Sonde ist fällig",
    "The record can't be written": "Die Aufzeichnung kann nicht geschrieben werden",
    "The time-series server has taken nothing for a day": "Der Zeitreihen-Server hat einen Tag lang nichts angenommen",
    "The wall clock can't be trusted": "Der Uhr ist nicht zu trauen",
    "Changed settings wait to be confirmed": "Geänderte Einstellungen warten auf Bestätigung",
    "Somebody works at the plant: service lockout": "Jemand arbeitet an der Anlage: Wartungssperre",
    "Feeding was stopped by hand": "Die Dosierung wurde von Hand gestoppt",
}

CONSEQUENCES = {
    "chlorine gas, burns": "Chlorgas, Verätzungen",
    "gas may reach bathers when the pump starts": "Gas kann Badende erreichen, wenn die Pumpe anläuft",
    "gas reaches bathers when the pump starts": "Gas erreicht Badende, wenn die Pumpe anläuft",
    "overfeed within half an hour": "Überdosierung binnen einer halben Stunde",
    "chemical siphons into the pool": "Chemie läuft in den Pool",
    "a feed that does not end would go unnoticed": "eine Dosierung, die nicht endet, bliebe unbemerkt",
    "unknown feed": "unbekannte Dosierung",
    "wrong probe, empty line or wrong strength: over- or underfeed": ("Sonde, Leitung oder Stärke falsch: zu viel oder zu wenig"),
    "pH falls fast when the alkalinity is used up": "ohne Alkalität fällt der pH schnell",
    "pH falls fast; skin and metal suffer": "pH fällt schnell; Haut und Metall leiden",
    "skin and eyes are hurt, metal dissolves": "Haut und Augen leiden, Metall löst sich",
    "slow overchlorination by a wrong probe, or algae": "schleichend zu viel Chlor durch falsche Sonde, oder Algen",
    "overfeed by a wrong probe, or algae": "Überdosierung durch falsche Sonde, oder Algen",
    "the water loses its chlorine in one to two days": "das Wasser verliert sein Chlor in ein bis zwei Tagen",
    "pH rises, scale forms": "pH steigt, Kalk bildet sich",
    "the water is not treated": "das Wasser wird nicht behandelt",
    "feeding ends when it is empty": "die Dosierung endet, wenn er leer ist",
    "the water is not treated; air enters the line": "keine Behandlung; Luft kommt in die Leitung",
    "the water loses its chlorine": "das Wasser verliert sein Chlor",
    "too little chlorine is made": "zu wenig Chlor entsteht",
    "skin, eyes and lungs are hurt": "Haut, Augen und Lunge leiden",
    "skin and eyes are hurt": "Haut und Augen leiden",
    "too much chlorine, or a wrong probe": "zu viel Chlor, oder eine falsche Sonde",
    "chlorine from elsewhere, or a wrong probe": "Chlor von anderswo, oder eine falsche Sonde",
    "scale, cloudy water, sore eyes": "Kalk, trübes Wasser, gereizte Augen",
    "if the ORP probe reads too high, the chlorine is gone": "zeigt die Redoxsonde zu viel, fehlt das Chlor im Becken",
    "a probe, the stabiliser's value or the test is wrong": "eine Sonde, der Stabilisatorwert oder der Test ist falsch",
    "an alarm that the owner does not hear reaches nobody": "ein Alarm, den der Besitzer nicht hört, erreicht niemanden",
    "hidden wear: a tube leaks, a cell or a probe fails": "verborgener Verschleiß: Schlauch leckt, Zelle oder Sonde versagt",
    "undisinfected water": "nicht desinfiziertes Wasser",
    "too much or too little chlorine over days": "tagelang zu viel oder zu wenig Chlor",
    "chlorine falls slowly in cold water": "Chlor nimmt in kaltem Wasser langsam ab",
    "pipes and pump burst": "Rohre und Pumpe platzen",
    "what is fed rests on a guess, and a drifting probe stays unseen": (
        "dosiert wird nach einer Vermutung, und das Abdriften einer Sonde bleibt unbemerkt"
    ),
    "slow drift of a probe stays unseen": "langsames Abdriften einer Sonde bleibt unbemerkt",
    "blind dosing, then too little or too much": "blinde Dosierung, dann zu wenig oder zu viel",
    "what they look for is seen late, or by nobody": "ihr Fehler zeigt sich spät oder niemandem",
    "blind dosing": "blinde Dosierung",
    "one of them doses wrong": "eine davon dosiert falsch",
    "no filtering, no treatment; the pump may run dry": "keine Filterung, keine Behandlung; die Pumpe kann trockenlaufen",
    "no treatment; air or a clogged basket": "keine Behandlung; Luft oder ein verstopfter Korb",
    "nothing is fed": "nichts wird dosiert",
    "the protection against feeding into still water is lost": "der Schutz gegen Dosieren in stehendes Wasser fehlt",
    "decisions on wrong data": "Entscheidungen auf falschen Daten",
    "too little treatment": "zu wenig Behandlung",
    "no control of that feeder": "keine Gewalt über diese Dosierung",
    "nothing is fed, nothing is heard": "nichts wird dosiert, nichts gehört",
    "feeding waits for the start hold": "die Dosierung wartet die Anlaufsperre ab",
    "long start holds: nothing is fed meanwhile": "lange Anlaufsperren: solange wird nichts dosiert",
    "nothing is fed for hours": "stundenlang wird nichts dosiert",
    "what it guards is not fed": "was sie bewacht, wird nicht dosiert",
    "summaries, reminders or messages may be missing": "Berichte, Erinnerungen oder Meldungen können fehlen",
    "an alarm may reach nobody": "ein Alarm erreicht vielleicht niemanden",
    "a fault of its wired protection stays hidden": "ein Fehler ihres verdrahteten Schutzes bleibt verborgen",
    "its charts stand still; the record itself is whole": "seine Kurven stehen still; die Aufzeichnung selbst ist vollständig",
    "time-of-day logic and the fall-back rate wait": "was nach der Uhr geht und die Ersatzmenge warten",
    "the feeders they concern are held": "die betroffenen Dosierungen sind gesperrt",
    "nothing is fed while it stands": "solange wird nichts dosiert",
}

DOES = {
    "All feeding is off and locked.": "Alle Dosierung ist aus und verriegelt.",
    "OFF is repeated; nothing else is fed.": "AUS wird wiederholt; sonst wird nichts dosiert.",
    "All feeding is off until water flows again.": "Alle Dosierung ist aus, bis wieder Wasser fließt.",
    "All feeding is off.": "Alle Dosierung ist aus.",
    "Chlorine is cut to a share of its usual rate; acid is off.": "Chlor ist auf einen Teil des Üblichen gekürzt; Säure ist aus.",
    "Acid is nearly stopped.": "Säure ist fast gestoppt.",
    "Acid is off and locked.": "Säure ist aus und verriegelt.",
    "Chlorine is cut to a share of its usual rate.": "Chlor ist auf einen Teil des Üblichen gekürzt.",
    "More is fed, within the limits.": "Innerhalb der Grenzen wird mehr dosiert.",
    "Feeding goes on within the limit.": "Die Dosierung läuft innerhalb der Grenze weiter.",
    "The interlock named as the cause holds chlorine.": "Die als Ursache genannte Verriegelung hält das Chlor.",
    "The interlock named as the cause holds acid.": "Die als Ursache genannte Verriegelung hält die Säure.",
    "That feeder is off.": "Diese Dosierung ist aus.",
    "Feeding goes on.": "Die Dosierung läuft weiter.",
    "Feeding goes on until it is empty.": "Die Dosierung läuft, bis er leer ist.",
    "Nothing is fed while the reading says that there is enough.": ("Solange die Messung genug anzeigt, wird nichts dosiert."),
    "The estimate follows it; a likely slip waits for a second test.": (
        "Die Schätzung folgt ihm, einem wahrscheinlichen Tippfehler nicht."
    ),
    "Chlorine is bounded by its usual amount and the ORP.": "Übliche Menge und Redox begrenzen das Chlor.",
    "Calls go to the first person alone, and are repeated.": "Gerufen wird nur die erste Person, immer wieder.",
    "The cell rests.": "Die Zelle ruht.",
    "Acid is off.": "Säure ist aus.",
    "Chlorine is off.": "Chlor ist aus.",
    "Chlorine waits a day, then is limited.": "Chlor wartet einen Tag und ist dann begrenzt.",
    "No chlorine is wanted; interlocks do not read the estimate.": "Es wird kein Chlor angefordert.",
    "Chlorine waits some hours.": "Chlor wartet einige Stunden.",
    "Chlorine is held near its usual use, without ORP to its fall-back rate; above 8.8 it is off.": (
        "Chlor ist auf etwa den üblichen Verbrauch begrenzt, ohne Redox auf die Ersatzmenge; über 8,8 ist es aus."
    ),
    "Feeding goes on as far as the interlocks permit.": "Die Dosierung läuft, so weit die Verriegelungen es erlauben.",
    "A bounded share of the usual chlorine is fed; acid waits without pH.": (
        "Ein begrenzter Teil des üblichen Chlors wird dosiert; Säure wartet ohne pH."
    ),
    "Chlorine follows the best guess, within a share of its usual amount.": (
        "Chlor folgt der besten Schätzung, begrenzt auf einen Teil des Üblichen."
    ),
    "Nothing changes.": "Es ändert sich nichts.",
    "Chlorine falls back to a bounded rate; without pH acid stops.": "Chlor läuft begrenzt weiter; ohne pH steht die Säure.",
    "Chlorine falls back to a bounded rate where the probe proved dead.": (
        "Chlor läuft begrenzt weiter, wo die Sonde erwiesen tot ist."
    ),
    "Chlorine falls back to a bounded rate; acid stops on pH.": "Chlor läuft begrenzt weiter; bei pH steht die Säure.",
    "Acid waits; chlorine falls back to a bounded rate.": "Säure wartet; Chlor läuft begrenzt weiter.",
    "Flow must hold longer before anything is fed.": "Der Fluss muss länger halten, bevor dosiert wird.",
    "All feeding waits until it is seen again.": "Alle Dosierung wartet, bis es wieder zu sehen ist.",
    "They are dropped; the signal counts as lost.": "Sie werden verworfen; das Signal gilt als verloren.",
    "All other interlocks go on.": "Alle anderen Verriegelungen arbeiten.",
    "Nothing is fed without flow.": "Ohne Fluss wird nichts dosiert.",
    "Its commands have expired: what hangs on it is off.": "Seine Befehle sind abgelaufen: was daran hängt, ist aus.",
    "All feeding is off; the controller keeps trying.": "Alle Dosierung ist aus; die Steuerung versucht es weiter.",
    "Feeding waits, then goes on by itself.": "Die Dosierung wartet und läuft dann von selbst weiter.",
    "Feeding waits for an hour.": "Die Dosierung wartet eine Stunde.",
    "Feeding waits for six hours.": "Die Dosierung wartet sechs Stunden.",
    "The feeders it guards are off.": "Die von ihr bewachten Dosierungen sind aus.",
    "All feeding is off until it has caught up.": "Alle Dosierung ist aus, bis sie aufgeholt hat.",
    "Dosing goes on where it does not need that part.": "Dosiert wird weiter, wo dieser Teil nicht nötig ist.",
    "The other ways are used.": "Die anderen Wege werden benutzt.",
    "All feeding is off until it can be written again.": "Alle Dosierung ist aus, bis wieder geschrieben werden kann.",
    "Everything is kept and sent later.": "Alles wird aufbewahrt und später gesendet.",
    "Limits count as if no time had passed.": "Grenzen zählen, als wäre keine Zeit vergangen.",
    "Those feeders are off.": "Diese Dosierungen sind aus.",
}

RESPONSES = {
    "Keep everyone out. Who smells chlorine stays out and calls for help. Have the power cut from outside. "
    "Call emergency services if anyone coughs.": (
        f"Alle fernhalten. {SMELL} Strom von außen abschalten lassen. Bei Husten den Notruf wählen."
    ),
    "Nobody in or near the water or the plant room. Who smells chlorine stays out and calls for help. "
    "Pump off only from outside; restart only by someone trained.": (
        f"Niemand ins Wasser oder in den Technikraum. {SMELL} Pumpe nur von außen aus; Neustart nur durch Eingewiesene."
    ),
    "Have the power cut from outside; who smells chlorine stays out and calls for help. "
    "Nobody swims until the water was tested by hand.": (
        f"Strom von außen abschalten lassen. {SMELL} Niemand badet, bis das Wasser von Hand getestet ist."
    ),
    "Nobody swims. Have the power cut from outside; who smells chlorine stays out and calls for help. "
    "Parts that carry acid only by someone trained, with goggles and gloves.": (
        f"Niemand badet. Strom von außen abschalten lassen. {SMELL} Säureführende Teile {TRAINED}."
    ),
    "Nobody swims until the water was tested by hand. "
    "Find that program and end it; change the broker's passwords. Then clear the lock at the plant.": (
        "Niemand badet, bis das Wasser von Hand getestet ist. "
        "Dieses Programm finden und beenden; Passwörter des Nachrichtenverteilers ändern. Dann die Sperre an der Anlage lösen."
    ),
    "Test free chlorine and pH by hand and enter the result. "
    "Container and tube only by someone trained, with goggles and gloves.": (
        f"Freies Chlor und pH von Hand testen und eintragen. Behälter und Schlauch {TRAINED}."
    ),
    "Test the total alkalinity and enter it. Raise it by the product's label if it is low.": (
        "Alkalität testen und eintragen. Ist sie niedrig, nach dem Etikett des Mittels anheben."
    ),
    "Test the total alkalinity by hand, raise it, and enter the new result.": (
        "Alkalität von Hand testen, anheben und den neuen Wert eintragen."
    ),
    "Nobody swims. Test pH and alkalinity by hand, raise them, find out why, then clear the lock at the plant.": (
        "Niemand badet. pH und Alkalität von Hand testen, anheben, die Ursache finden, dann die Sperre an der Anlage lösen."
    ),
    "Look at the water, test free chlorine by hand and enter the result; that ends it or shows the cause.": (
        "Wasser ansehen, freies Chlor von Hand testen und eintragen; das beendet es oder zeigt die Ursache."
    ),
    "Test free chlorine and pH by hand and enter the results. Look for algae or a wrong probe.": (
        "Freies Chlor und pH von Hand testen und eintragen. Nach Algen oder einer falschen Sonde sehen."
    ),
    "Follow the cause. If it lasts a day, test by hand and do not swim below the target's half.": (
        "Der Ursache nachgehen. Dauert es einen Tag, von Hand testen und unter der Hälfte des Sollwerts nicht baden."
    ),
    "Follow the cause. Test pH by hand.": "Der Ursache nachgehen. pH von Hand testen.",
    "Have its plug and cable looked at. Tube and motor only by someone trained, with goggles and gloves. "
    "Then clear it at the plant.": (
        f"Stecker und Kabel ansehen lassen. Schlauch und Motor {TRAINED}. Dann an der Anlage quittieren."
    ),
    "Have it refilled by someone trained, with goggles and gloves, the same product and strength. Enter what it holds then.": (
        f"Nachfüllen {TRAINED}, gleiches Mittel, gleiche Stärke. Dann den Inhalt eintragen."
    ),
    "Who smells chlorine stays out and calls for help. Have it refilled and primed by someone trained, with goggles "
    "and gloves, the same product and strength. Enter what it holds then.": (
        f"{SMELL} Nachfüllen und Entlüften {TRAINED}, gleiches Mittel, gleiche Stärke. Dann den Inhalt eintragen."
    ),
    "Test free chlorine by hand. Old product: have fresh filled in by someone trained, with goggles and gloves, "
    "and enter it. A cell: test the salt.": (
        f"Freies Chlor von Hand testen. Altes Mittel: frisches {TRAINED}; eintragen. Sonst Salz von Hand testen."
    ),
    "Test the salt by hand and enter it. Cleaning the cell is work for someone trained, with goggles and gloves.": (
        f"Salz von Hand testen und eintragen. Reinigen der Zelle {TRAINED}."
    ),
    "Nobody swims. Test pH and alkalinity by hand and enter them. Wait, or raise them by the product's label.": (
        "Niemand badet. pH und Alkalität von Hand testen und eintragen. Warten, oder nach dem Etikett des Mittels anheben."
    ),
    "Nobody swims. Test free chlorine by hand with a diluted sample; wait for it to fall.": (
        "Niemand badet. Freies Chlor von Hand mit verdünnter Probe testen; warten, bis es fällt."
    ),
    "Nobody swims above the limit. Test again and enter it, or withdraw a slip. Look for tablets and hand dosing.": (
        "Über der Grenze badet niemand. Neu testen und eintragen, oder einen Tippfehler zurückziehen. Nach Tabletten sehen "
        "und nach Chlor, das jemand zugab."
    ),
    "Test free chlorine by hand. Look for tablets in skimmer or floater. Nobody swims above the limit.": (
        "Freies Chlor von Hand testen. Nach Tabletten in Skimmer oder Schwimmer sehen. Über der Grenze badet niemand."
    ),
    "Test free chlorine by hand and enter the result; that ends the doubt.": (
        "Freies Chlor von Hand testen und eintragen; das beendet die Ungewissheit."
    ),
    "Test anew in 15 min, enter it. The same again: with the pump off clean and check the probe; test the stabiliser.": (
        "Nach 15 min nochmals testen, eintragen. Wieder so: Pumpe aus, Sonde reinigen und prüfen; Stabilisator testen."
    ),
    "Test free chlorine by hand and enter it. If low: clean and check the ORP probe with the pump off; else find why.": (
        "Freies Chlor von Hand testen und eintragen. Ist es niedrig: Pumpe aus, Redoxsonde reinigen und prüfen; sonst "
        "Grund suchen."
    ),
    "Have that part replaced, a tube or cell only by someone trained, with goggles and gloves; enter that it was done.": (
        f"Dieses Teil ersetzen lassen, Schlauch oder Zelle {TRAINED}; eintragen, dass es getan ist."
    ),
    "Name a second person in the settings who can go there, and let them answer a test call.": (
        "In den Einstellungen eine zweite Person nennen, die hingehen kann, und sie einen Probealarm beantworten lassen."
    ),
    "Test free chlorine by hand and enter the result.": "Freies Chlor von Hand testen und eintragen.",
    "Ask who added chlorine; look for tablets in skimmer or floater. Test free chlorine by hand.": (
        "Fragen, wer Chlor zugegeben hat; nach Tabletten in Skimmer oder Schwimmer sehen. Freies Chlor von Hand testen."
    ),
    "Test pH by hand and enter it. Have the acid's container and feeder looked at by someone trained, "
    "with goggles and gloves.": f"pH von Hand testen und eintragen. Säurebehälter und Dosierung prüfen: {TRAINED}.",
    "Nobody swims. Test by hand and enter it; look at the water. Cell and container only by someone trained.": (
        f"Niemand badet. Von Hand testen und eintragen; das Wasser ansehen. Zelle und Behälter {TRAINED}."
    ),
    "Nobody swims until free chlorine was tested by hand. With the pump off at its breaker clean or replace the probe.": (
        "Niemand badet, bis freies Chlor von Hand getestet ist. Pumpe an der Sicherung aus, dann Sonde reinigen oder ersetzen."
    ),
    "None; test free chlorine by hand once a week and enter it.": (
        "Nichts; einmal in der Woche freies Chlor von Hand testen und eintragen."
    ),
    "Have someone who knows the plant keep the water moving, heat the plant room, or drain the pipes.": (
        "Wer die Anlage kennt, soll das Wasser in Bewegung halten, den Technikraum heizen oder die Rohre entleeren."
    ),
    "Test free chlorine and pH by hand and enter them with the method.": (
        "Freies Chlor und pH von Hand testen und mit der Methode eintragen."
    ),
    "Test free chlorine and pH by hand. Check plug and cable; with the pump off at its breaker clean the "
    "tip, try a spare probe.": (
        "Freies Chlor und pH von Hand testen. Stecker und Kabel prüfen. Pumpe an der Sicherung aus, dann Spitze "
        "reinigen, Ersatzsonde "
        "versuchen."
    ),
    "Test free chlorine and pH by hand. With the pump off at its breaker: look at the sample valve, clean "
    "the tip, try it in a buffer.": (
        "Freies Chlor und pH von Hand testen. Pumpe an der Sicherung aus, dann Ventil der Messleitung ansehen, Spitze "
        "reinigen, in Pufferlösung prüfen."
    ),
    "Test by hand which one is right; with the pump off at its breaker clean or replace the other.": (
        "Von Hand testen, welche stimmt; die andere bei an der Sicherung ausgeschalteter Pumpe reinigen oder ersetzen."
    ),
    "With the pump off at its breaker: open the sample valve, clean its filter.": (
        "Bei an der Sicherung ausgeschalteter Pumpe: Ventil der Messleitung öffnen, ihren Filter reinigen."
    ),
    "Have the pump switched off at its breaker, then basket, valves and filter looked at.": (
        "Pumpe an der Sicherung ausschalten lassen, dann Korb, Ventile und Filter ansehen lassen."
    ),
    "Look at the water level. With the pump off at its breaker: basket, valves and the flow switch's cable.": (
        "Wasserstand ansehen. Bei an der Sicherung ausgeschalteter Pumpe: Korb, Ventile, Kabel des Flussschalters."
    ),
    "Look at the sensor's power, cable and network.": "Strom, Kabel und Netzwerk des Sensors ansehen.",
    "Have the flow switch mended or replaced by someone trained before anything is fed; then clear the lock at the plant.": (
        "Flussschalter durch Eingewiesene reparieren oder ersetzen lassen, bevor dosiert wird; dann die Sperre an der "
        "Anlage lösen."
    ),
    "Look for a second publisher, a bridge that repeats, or a source with a wrong clock.": (
        "Nach einem zweiten Sender, einer Brücke, die wiederholt, oder einer Quelle mit falscher Uhr suchen."
    ),
    "`dosectl guards` says what each lacks: a figure to read off a label, a signal to have fitted by someone "
    "trained, or (where it says so) a line in the settings.": (
        "`dosectl guards` nennt, was fehlt: Werte vom Typenschild, Signale (durch Fachkundige), oder (wo es so sagt) eine Zeile "
        "in den Einstellungen."
    ),
    "Lengthen the pump's timetable; have its breaker looked at by an electrician. "
    "Where the hours are long already, have the feeder's output checked by someone trained.": (
        "Laufzeit der Pumpe verlängern; Sicherung vom Elektriker ansehen lassen. Ist sie lang: Leistung der Dosierung durch "
        "Eingewiesene prüfen lassen."
    ),
    "Look at the network and the node's power. The meter at the feeder's load only by someone trained.": (
        "Netzwerk und Strom des Steuermoduls ansehen. Das Messgerät an der Dosierung nur durch Eingewiesene."
    ),
    "Look at its power and network.": "Seinen Strom und sein Netzwerk ansehen.",
    "Look at the router and the broker's machine.": "Router und Rechner des Nachrichtenverteilers ansehen.",
    "None once; if it repeats, look at the power supply and the log.": (
        "Einmal nichts; wiederholt es sich, Stromversorgung und Protokoll ansehen."
    ),
    "Look at the power supply and the log.": "Stromversorgung und Protokoll ansehen.",
    "Look at the log and the power supply; test the water by hand.": (
        "Protokoll und Stromversorgung ansehen; das Wasser von Hand testen."
    ),
    "Export the record, report the defect; test the water by hand.": (
        "Aufzeichnung ausgeben, den Fehler melden; das Wasser von Hand testen."
    ),
    "Look at what else loads the machine.": "Nachsehen, was den Rechner sonst belastet.",
    "Look at the fault's name and the log.": "Name des Fehlers und Protokoll ansehen.",
    "Look at the account, the address and the internet line of that way; then test it.": (
        "Konto, Adresse und Internetanschluss dieses Weges ansehen; dann ihn prüfen."
    ),
    "Have the proof test of that feeder done again by its card, by someone trained, and enter it.": (
        "Prüfung dieser Dosierung nach ihrer Karte durch Eingewiesene wiederholen lassen und eintragen."
    ),
    "With the pump off take the probe out, check it in its buffer or standard, and enter that it was done.": (
        "Bei ausgeschalteter Pumpe Sonde herausnehmen, in Puffer oder Standard prüfen und eintragen, dass es getan ist."
    ),
    "Make room on the disk or replace it.": "Platz auf dem Datenträger schaffen oder ihn ersetzen.",
    "None; look at the server when convenient.": "Nichts; bei Gelegenheit nach dem Server sehen.",
    "Look at the network time service and the clock's battery.": "Zeitdienst des Netzwerks und Batterie der Uhr ansehen.",
    "Read the sheet of what the change means in mg/L and pH, then confirm it at the plant.": (
        "Das Blatt lesen, was die Änderung in mg/L und pH bedeutet, dann an der Anlage bestätigen."
    ),
    "End it at the plant when the work is done.": "An der Anlage beenden, wenn die Arbeit getan ist.",
    "Release it at the plant when it is no longer needed.": "An der Anlage freigeben, wenn es nicht mehr nötig ist.",
}

WITHIN = {
    "< 1 h": "< 1 h",
    "1 to 12 h": "1 bis 12 h",
    "12 to 48 h": "12 bis 48 h",
    "> 48 h": "> 48 h",
    "12 to 48 h, falling with age": "12 bis 48 h, mit der Dauer kürzer",
    "> 48 h, falling with age": "> 48 h, mit der Dauer kürzer",
}

ALARMS = {**TITLES, **CONSEQUENCES, **DOES, **RESPONSES, **WITHIN}
