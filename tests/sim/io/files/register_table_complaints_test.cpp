#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with a register table is told where it stands") {
  const test::Breakage cases[] = {
      {"no title", "register_table: Test table\n", "register_table:\n",
       "table.yaml:1:1: register_table: nothing stands here, expected a value"},
      {"an unknown key", "numbering: zero-based", "numbring: zero-based",
       "table.yaml:2:1: unknown key 'numbring', did you mean 'numbering'?"},
      {"an unknown numbering", "numbering: zero-based", "numbering: two-based",
       "table.yaml:2:12: numbering: unknown word 'two-based', did you mean 'zero-based'?"},
      {"an unknown word order", "word_order: high-first", "word_order: big-endian",
       "table.yaml:3:13: word_order: unknown word 'big-endian'; known: high-first, low-first"},
      {"a point nobody knows", "point: load_current_l1", "point: load_curent_l1",
       "table.yaml:7:26: point: unknown point 'load_curent_l1', did you mean 'load_current_l1'?"},
      {"no point", "point: load_current_l1, ", "", "table.yaml:7:5: holding: key 'point' is missing"},
      {"no address", "at: 0x0040, ", "", "table.yaml:7:5: holding: key 'at' is missing"},
      {"an address too large", "at: 0x0040", "at: 0x10040",
       "table.yaml:7:11: at: expected a zero-based address from 0 to 65535 (0xFFFF), found '0x10040'"},
      {"a one-based zero",
       "numbering: zero-based\n"
       "word_order: high-first\n"
       "holding:\n"
       "  - { at: 0x0030",
       "numbering: one-based\n"
       "word_order: high-first\n"
       "holding:\n"
       "  - { at: 0",
       "table.yaml:5:11: at: expected a one-based address from 1 to 65536 (0x10000), found '0'"},
      {"a reference number of another table",
       "numbering: zero-based\n"
       "word_order: high-first\n"
       "holding:\n"
       "  - { at: 0x0030, point: setpoint, as: u16, scale: 0.1 %, access: read-write, range: 0..100 % }\n"
       "  - { at: 0x0031, point: comms_timeout, as: u16, scale: 0.1 s, access: read-write, kept: true }\n"
       "  - { at: 0x0040, point: load_current_l1, as: u16, scale: 0.1 A }\n"
       "  - { at: 0x0041, point: state, as: u16, values: { running: 10 } }\n"
       "  - { at: 0x0042, point: warnings, as: u16, flags: { comms-loss: 15 } }\n"
       "  - { at: 0x0043, point: trips, as: bit, bit: 3, flag: comms-loss }\n"
       "  - { at: 0x0050, point: load_power, as: f32, word_order: low-first, split: refuse }",
       "numbering: reference\n"
       "holding:\n"
       "  - { at: 30049, point: setpoint }",
       "table.yaml:4:11: at: expected the reference number of a holding register, 40001 to 49999 or 400001 "
       "to 465536, found '30049'"},
      {"a scale in another unit", "scale: 0.1 A", "scale: 0.1 V",
       "table.yaml:7:59: scale: 'V' is no unit for a current: expected a current such as '50 A'"},
      {"a scale of nothing", "scale: 0.1 A", "scale: 0 A", "table.yaml:7:59: scale: '0 A' must be above 0"},
      {"a scale without unit", "scale: 0.1 A", "scale: 0.1",
       "table.yaml:7:59: scale: '0.1' has no unit of measure: expected a current such as '50 A'"},
      {"an unknown type", "as: u16, scale: 0.1 A", "as: u8, scale: 0.1 A",
       "table.yaml:7:47: as: unknown word 'u8', did you mean 'u16'?"},
      {"access the point has not", "scale: 0.1 A", "scale: 0.1 A, access: read-write",
       "table.yaml:7:5: load_current_l1 at 0x0040 (40065): this point cannot be written: expected access "
       "read-only"},
      {"a range in another unit", "range: 0..100 %", "range: 0..100 A",
       "table.yaml:5:86: range: 'A' is no unit for a percentage: expected a percentage such as '50 %'"},
      {"a range upside down", "range: 0..100 %", "range: 100..0 %",
       "table.yaml:5:86: range: the lower end comes first, found '100..0 %'"},
      {"a range that is none", "range: 0..100 %", "range: 100 %",
       "table.yaml:5:86: range: expected a range such as '0..100 %', found '100 %'"},
      {"a range the type cannot carry", "range: 0..100 %", "range: 0..10000 %",
       "table.yaml:5:5: setpoint at 0x0030 (40049): the range 0 % to 10000 % does not fit the type u16, "
       "which with this scale carries 0 % to 6553.5 %"},
      {"an unknown way with values out of range", "range: 0..100 %", "out_of_range: exception-02",
       "table.yaml:5:93: out_of_range: unknown word 'exception-02', did you mean 'exception-03'?"},
      {"kept that is no switch", "kept: true", "kept: maybe",
       "table.yaml:6:90: kept: expected on or off (or closed/open, true/false, 1/0), found 'maybe'"},
      {"a word the state has not", "values: { running: 10 }", "values: { runing: 10 }",
       "table.yaml:8:52: values: unknown word 'runing', did you mean 'running'?"},
      {"a number that is taken", "values: { running: 10 }", "values: { running: 7 }",
       "table.yaml:8:5: state at 0x0041 (40066): the number 7 would mean both running and tripped; a word "
       "that `values` does not list keeps its own number"},
      {"a number too large", "values: { running: 10 }", "values: { running: 70000 }",
       "table.yaml:8:61: running: expected a whole number from 0 to 65535, found '70000'"},
      {"values of a quantity", "scale: 0.1 A", "values: { running: 10 }",
       "table.yaml:7:52: values: this point has no words to renumber"},
      {"a flag nobody knows", "flags: { comms-loss: 15 }", "flags: { coms-loss: 15 }",
       "table.yaml:9:54: flags: unknown word 'coms-loss', did you mean 'comms-loss'?"},
      {"bit 16", "flags: { comms-loss: 15 }", "flags: { comms-loss: 16 }",
       "table.yaml:9:66: comms-loss: expected a whole number from 0 to 15, found '16'"},
      {"a flag of a quantity", "as: u16, scale: 0.1 A", "as: bit, flag: comms-loss",
       "table.yaml:7:52: flag: only warnings and trips have flags"},
      {"bit of a word", "as: u16, scale: 0.1 A", "as: u16, bit: 3",
       "table.yaml:7:52: bit: only a row that is carried 'as: bit' has a bit position"},
      {"scale of a bit", "as: bit, bit: 3", "as: bit, bit: 3, scale: 2",
       "table.yaml:10:50: scale: a bit has no scale"},
      {"split that is unknown", "split: refuse", "split: never",
       "table.yaml:11:77: split: unknown word 'never'; known: refuse, allow"},
      {"an overlap", "at: 0x0041", "at: 0x0040",
       "table.yaml:8:5: state at 0x0040 (40065) overlaps load_current_l1 at 0x0040 (40065), line 7"},
      {"an overlap of two registers", "at: 0x0043", "at: 0x0051",
       "table.yaml:11:5: load_power at 0x0050 (40081) overlaps trips at 0x0051 (40082), line 10"},
      {"input that is another word", "same-as-holding", "same-as-coils",
       "table.yaml:12:8: input: expected a list of rows or 'same-as-holding', found 'same-as-coils'"},
      {"a row that is no mapping", "  - { at: 0x0040, point: load_current_l1, as: u16, scale: 0.1 A }",
       "  - load_current_l1",
       "table.yaml:7:5: holding: expected keys and values such as { at: 0x0030, point: setpoint, as: u16, "
       "scale: 0.1 % }"},
      {"rows that are no list", "input: same-as-holding", "input: { at: 1, point: state }",
       "table.yaml:12:8: input: expected a list of rows, found keys and values"},
      {"a register in the coils", "input: same-as-holding",
       "coils:\n"
       "  - { at: 0, point: state, as: u16 }",
       "table.yaml:13:5: state at 0x0000 (00001): coils and discrete inputs carry single bits: expected type "
       "bit, found u16"},
      {"bit in the coils", "input: same-as-holding",
       "coils:\n"
       "  - { at: 0, point: reset, bit: 3 }",
       "table.yaml:13:28: bit: a coil or discrete input is one bit by itself"},
      {"a row of input beside same-as-holding", "input: same-as-holding",
       "input: same-as-holding\n"
       "hoildng: []",
       "table.yaml:13:1: unknown key 'hoildng', did you mean 'holding'?"},
  };
  test::check_breakages(cases, "table.yaml");
}

TEST_CASE("what is wrong with masks, codings, text and fixed values is told where it stands") {
  // All of them replace the row of load_current_l1, in line 7.
  constexpr auto kRow = "{ at: 0x0040, point: load_current_l1, as: u16, scale: 0.1 A }";
  const test::Breakage cases[] = {
      {"bits without a mask", kRow, "{ at: 0x0040, point: setpoint_local, as: bits, scale: 1 % }",
       "table.yaml:7:5: holding: key 'mask' is missing, the bits of the register that carry the value, such "
       "as "
       "0x00F0"},
      {"a mask with a gap", kRow, "{ at: 0x0040, point: setpoint_local, as: bits, mask: 0x0105 }",
       "table.yaml:7:5: setpoint_local at 0x0040 (40065): the type bits needs a mask of bits without a gap, "
       "such "
       "as 0x00F0, found 0x0105"},
      {"a mask of more than a register", kRow,
       "{ at: 0x0040, point: setpoint_local, as: bits, mask: 0x10000 }",
       "table.yaml:7:58: mask: expected a whole number from 1 to 65535, found '0x10000'"},
      {"a mask of a whole register", kRow, "{ at: 0x0040, point: setpoint_local, mask: 0x000F }",
       "table.yaml:7:42: mask: only a row that is carried 'as: bits' has a mask"},
      {"a coding of later", kRow, "{ at: 0x0040, point: output, coding: gray }",
       "table.yaml:7:42: coding: unknown word 'gray'; known: binary, sign-magnitude, bcd"},
      {"a coding that does not fit", kRow, "{ at: 0x0040, point: output, as: s16, coding: bcd }",
       "table.yaml:7:5: output at 0x0040 (40065): the coding bcd needs the type u16, u32 or u64, found s16"},
      {"a write mask of a row that is read", kRow, "{ at: 0x0040, point: output, write_mask: 0x000F }",
       "table.yaml:7:5: output at 0x0040 (40065): a row that is read-only has no write mask"},
      {"text that is a number", kRow, "{ at: 0x0030, point: setpoint, as: text, registers: 4 }",
       "table.yaml:7:26: point: 'setpoint' is no text: with 'as: text' expected one of vendor_name, "
       "product_code, "
       "revision, vendor_url, product_name, model_name, application_name"},
      {"text nobody knows", kRow, "{ at: 0x0070, point: prodct_code, as: text, registers: 4 }",
       "table.yaml:7:26: point: unknown text 'prodct_code', did you mean 'product_code'?"},
      {"text carried as a number", kRow, "{ at: 0x0070, point: product_code }",
       "table.yaml:7:26: point: 'product_code' is text: expected 'as: text' beside it"},
      {"text of no length", kRow, "{ at: 0x0070, point: product_code, as: text }",
       "table.yaml:7:5: holding: key 'registers' is missing, how many of them the text fills"},
      {"text too long to be read", kRow, "{ at: 0x0070, point: product_code, as: text, registers: 123 }",
       "table.yaml:7:61: registers: expected a whole number from 1 to 122, found '123'"},
      {"registers of a number", kRow, "{ at: 0x0070, point: output, registers: 2 }",
       "table.yaml:7:34: registers: only a row that is carried 'as: text' says how many it fills"},
      {"text with a scale", kRow, "{ at: 0x0070, point: product_code, as: text, registers: 4, scale: 2 }",
       "table.yaml:7:64: scale: text stands as it is"},
      {"text with an order of words", kRow,
       "{ at: 0x0070, point: product_code, as: text, registers: 4, word_order: low-first }",
       "table.yaml:7:64: word_order: text is read in the order of its registers"},
      {"text that is written", kRow,
       "{ at: 0x0070, point: product_code, as: text, registers: 4, access: read-write }",
       "table.yaml:7:5: product_code at 0x0070 (40113): text cannot be written: expected access read-only"},
      {"fixed text too long", kRow, "{ at: 0x0070, fixed: EL-24, as: text, registers: 2 }",
       "table.yaml:7:5: fixed at 0x0070 (40113): the text has 5 characters, and 2 registers hold 4"},
      {"a fixed row with a point", kRow, "{ at: 0x0070, point: output, fixed: 7 }",
       "table.yaml:7:19: point: a row with 'fixed' carries no point: expected one of the two"},
      {"a fixed number that is none", kRow, "{ at: 0x0070, fixed: 12.5 }",
       "table.yaml:7:26: fixed: expected the number that u16 carries, such as 4711 or 0x1267, found '12.5'"},
      {"a fixed number too large", kRow, "{ at: 0x0070, fixed: 65536 }",
       "table.yaml:7:5: fixed at 0x0070 (40113): the number 65536 does not fit the type u16: expected a "
       "whole "
       "number from 0 to 65535"},
      {"a fixed number with a range", kRow, "{ at: 0x0070, fixed: 7, range: 0..9 }",
       "table.yaml:7:29: range: a fixed number is never written"},
      {"a bit field too wide for its mask", kRow,
       "{ at: 0x0070, point: trips, as: bits, mask: 0x00F0, flags: { comms-loss: 4 } }",
       "table.yaml:7:78: comms-loss: expected a whole number from 0 to 3, found '4'"},
  };
  test::check_breakages(cases, "table.yaml");
}

TEST_CASE("enumerations of a table: what is wrong with them or their use is told where it stands") {
  constexpr auto kRow = "values: { running: 10 }";
  constexpr auto kTitle = "numbering: zero-based\n";
  const test::Breakage cases[] = {
      {"a name without a list", kRow, "values: ours",
       "table.yaml:8:50: values: expected numbers such as { running: 10 }, found 'ours'"},
      {"a list of words nobody has", kTitle, "words: { ours: { runing: 10 } }\n",
       "table.yaml:2:18: ours: unknown word 'runing', did you mean 'running'?"},
      {"a list that is none", kTitle, "words: { ours: running }\n",
       "table.yaml:2:16: ours: expected words with their numbers such as { running: 10 }, found 'running'"},
      {"lists that are none", kTitle, "words: ours\n",
       "table.yaml:2:8: words: expected names with words such as { my_states: { running: 10 } }, found "
       "'ours'"},
      {"a number too large", kTitle, "words: { ours: { running: 70000 } }\n",
       "table.yaml:2:27: running: expected a whole number from 0 to 65535, found '70000'"},
  };
  test::check_breakages(cases, "table.yaml");
}
