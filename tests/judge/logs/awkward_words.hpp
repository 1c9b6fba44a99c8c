// SPDX-License-Identifier: Apache-2.0
// Words that may stand over a log's columns, in five languages and in none.
#pragma once

#include <string>
#include <vector>

namespace judge {

/// A language's words for each kind of column, and for what a tester does.
struct Language {
  std::vector<std::string> time, step_time, date, clock, voltage, current, charge_current,
      discharge_current, capacity, energy, temperature, power, step, record, state;
  std::string charging, discharging, resting, total;
};

inline const std::vector<Language>& languages() {
  static const std::vector<Language> all = {
      {.time = {"Time", "Elapsed", "Elapsed Time", "Test Time", "Total Time", "Run Time", "t"},
       .step_time = {"Step Time"},
       .date = {"Date", "Day", "Calendar Day"},
       .clock = {"Clock", "Time of Day", "Clock Time", "Local Time"},
       .voltage = {"Voltage", "Volts", "Cell Voltage", "U", "V", "Battery Voltage",
                   "Terminal Volts"},
       .current = {"Current", "Amps", "Amperes", "I", "Test Current", "Load"},
       .charge_current = {"Charge Current", "Charging Amps", "I charge"},
       .discharge_current = {"Discharge Current", "Discharging Amps", "I discharge"},
       .capacity = {"Capacity", "Charge Count", "Amp Hours", "Coulombs", "Ah"},
       .energy = {"Energy", "Watt Hours", "Work", "Wh"},
       .temperature = {"Temperature", "Temp", "Cell Temp", "Probe"},
       .power = {"Power", "Watts"},
       .step = {"Step", "Step No", "Stage"},
       .record = {"Record", "No.", "Index", "Line"},
       .state = {"State", "Mode", "Status", "Step Name", "Activity", "What"},
       .charging = "Charge",
       .discharging = "Discharge",
       .resting = "Rest",
       .total = "Total"},
      {.time = {"Zeit", "Laufzeit", "Messzeit", "Dauer", "Prüfzeit", "Zeit gesamt"},
       .step_time = {"Schrittzeit"},
       .date = {"Datum", "Tag", "Messtag"},
       .clock = {"Uhrzeit", "Uhr", "Ortszeit"},
       .voltage = {"Spannung", "Zellspannung", "Klemmenspannung", "Volt", "Akkuspannung"},
       .current = {"Strom", "Prüfstrom", "Ampere", "Stromstärke", "Messstrom"},
       .charge_current = {"Ladestrom", "Strom Laden"},
       .discharge_current = {"Entladestrom", "Strom Entladen"},
       .capacity = {"Kapazität", "Ladungsmenge", "Amperestunden", "Ladung"},
       .energy = {"Energie", "Wattstunden", "Arbeit"},
       .temperature = {"Temperatur", "Zelltemperatur", "Fühler"},
       .power = {"Leistung"},
       .step = {"Schritt", "Schritt-Nr.", "Abschnitt"},
       .record = {"Nr.", "Zeile", "Messpunkt"},
       .state = {"Zustand", "Modus", "Vorgang", "Betriebsart", "Phase"},
       .charging = "Laden",
       .discharging = "Entladen",
       .resting = "Pause",
       .total = "Summe"},
      {.time = {"Temps", "Durée", "Temps écoulé", "Temps total"},
       .step_time = {"Temps étape"},
       .date = {"Date", "Jour"},
       .clock = {"Heure", "Horloge"},
       .voltage = {"Tension", "Tension cellule", "Volts", "Tension bornes"},
       .current = {"Courant", "Intensité", "Ampères", "Courant d'essai"},
       .charge_current = {"Courant de charge", "Courant charge"},
       .discharge_current = {"Courant de décharge", "Courant décharge"},
       .capacity = {"Capacité", "Quantité", "Ampère-heures"},
       .energy = {"Énergie", "Travail"},
       .temperature = {"Température", "Sonde"},
       .power = {"Puissance"},
       .step = {"Étape", "Pas"},
       .record = {"N°", "Ligne", "Mesure"},
       .state = {"État", "Mode", "Phase", "Opération"},
       .charging = "Charge",
       .discharging = "Décharge",
       .resting = "Repos",
       .total = "Somme"},
      {.time = {"Tiempo", "Duración", "Tiempo total", "Transcurrido"},
       .step_time = {"Tiempo del paso"},
       .date = {"Fecha", "Día"},
       .clock = {"Hora", "Reloj"},
       .voltage = {"Tensión", "Voltaje", "Voltios", "Tensión de celda"},
       .current = {"Corriente", "Amperios", "Intensidad"},
       .charge_current = {"Corriente de carga"},
       .discharge_current = {"Corriente de descarga"},
       .capacity = {"Capacidad", "Amperios-hora", "Carga acumulada"},
       .energy = {"Energía", "Trabajo"},
       .temperature = {"Temperatura", "Sonda"},
       .power = {"Potencia"},
       .step = {"Paso", "Etapa"},
       .record = {"Registro", "Fila", "Núm."},
       .state = {"Estado", "Modo", "Fase", "Operación"},
       .charging = "Carga",
       .discharging = "Descarga",
       .resting = "Reposo",
       .total = "Suma"},
      {.time = {"Tijd", "Verstreken tijd", "Looptijd", "Duur"},
       .step_time = {"Staptijd"},
       .date = {"Datum", "Dag"},
       .clock = {"Kloktijd", "Klok", "Uur"},
       .voltage = {"Spanning", "Celspanning", "Volt", "Klemspanning"},
       .current = {"Stroom", "Teststroom", "Ampère"},
       .charge_current = {"Laadstroom"},
       .discharge_current = {"Ontlaadstroom"},
       .capacity = {"Capaciteit", "Lading", "Ampère-uren"},
       .energy = {"Energie", "Arbeid"},
       .temperature = {"Temperatuur", "Voeler"},
       .power = {"Vermogen"},
       .step = {"Stap", "Fase nr"},
       .record = {"Regel", "Meting", "Volgnr"},
       .state = {"Toestand", "Modus", "Bezigheid"},
       .charging = "Laden",
       .discharging = "Ontladen",
       .resting = "Rust",
       .total = "Totaal"}};
  return all;
}

/// Words that mean nothing here.
inline const std::vector<std::string>& nonsense() {
  static const std::vector<std::string> all = {
      "aa",    "bb",      "x1",    "x2",     "kolom", "col A", "col B", "Feld 7", "Wert",  "Kanne",
      "brusk", "wug",     "blick", "fendle", "quorl", "m1",    "m2",    "m3",     "reg40", "reg41",
      "snark", "pim",     "zorp",  "val_a",  "val_b", "valc",  "sig0",  "sig1",   "sig2",  "daq7",
      "node9", "probe_x", "ydata", "qq",     "loch",  "Birne", "tasse", "pomme",  "nuage", "gato",
      "mesa",  "fiets",   "boom",  "kaas",   "lamp",  "raam",  "kers",  "brug",   "molen", "haven"};
  return all;
}

}  // namespace judge
