#include "oxylag/report.h"

/* Flammability of propane in air, about 2.1 to 9.5 % by volume, and its density against air are
 * common handbook figures; sources differ in the last digit. The rest is common practice. */
const char *const oxl_cautions[OXL_CAUTIONS] = {
    "The vehicle's service information, the instructions on the gas cylinder, local fire and work "
    "rules and licensed practice come before anything that this program says. The program only "
    "reads: it works no valve, clears no code and stops no engine.",
    "Propane burns in air from about 2 to 10 %. It is heavier than air and gathers in pits, drains "
    "and along the floor: no pit, no flame, no smoking, no heater, no charger that sparks nearby.",
    "Cylinder upright, its valve within reach; leak-test the hose with soap; no torch igniter in "
    "the hose. Liquid gas freezes skin.",
    "Carbon monoxide kills: lead the exhaust outdoors with a hose, even when the door is open. "
    "Local limits differ: look them up.",
    "Converter, shields and manifold are hot, and enrichment heats the converter more: gloves, no "
    "dry grass or rags below, keep to the time limit.",
    "Fans start by themselves and belts run: sleeves, hair, rings and lanyards away; lead hose and "
    "cable clear; the computer must not slide.",
    "Park or neutral, brake set, wheels chocked, nobody in front of the vehicle. Eye protection.",
    "An extinguisher for gas and fuel fires within reach; a second person where rules ask for one.",
    "Not on a vehicle with a fuel leak, with a faulty gas-fuel conversion, or while the misfire "
    "lamp flashes.",
    "At the end: shut the cylinder first, take the hose off, refit every port, read the trouble "
    "codes "
    "again.",
};

const char oxl_cautions_short[] =
    "The vehicle's service information, the gas cylinder's instructions and local fire and work "
    "rules come first. Propane burns and gathers low; exhaust gas kills indoors; converter and "
    "manifold are hot; belts and fans move. After the test: cylinder shut, hose off, every port "
    "refitted, trouble codes read again. The program only reads: it clears nothing and works "
    "nothing.";
