#include "plant-models/materials/material.hpp"

#include <array>
#include <cmath>
#include <set>
#include <string>

#include <doctest/doctest.h>

using namespace emberline::plant;

TEST_CASE("a curve that rises and falls is kept as it is") {
  constexpr std::array<Material::Row, 4> rows{{{20, 1.0}, {100, 1.5}, {200, 0.8}, {300, 0.9}}};
  const Material material{"invented", "this test", rows};
  CHECK(resistance_ratio(material, 20) == 1.0);
  CHECK(resistance_ratio(material, 60) == doctest::Approx(1.25));
  CHECK(resistance_ratio(material, 100) == 1.5);
  CHECK(resistance_ratio(material, 150) == doctest::Approx(1.15));
  CHECK(resistance_ratio(material, 200) == 0.8);
  CHECK(resistance_ratio(material, 250) == doctest::Approx(0.85));
}

TEST_CASE("beyond the table the last value holds") {
  for (const auto& material : all_materials()) {
    if (material.rows.empty()) continue;
    CAPTURE(std::string(material.name));
    CHECK(resistance_ratio(material, -273.15) == material.rows.front().ratio);
    CHECK(resistance_ratio(material, 1e6) == material.rows.back().ratio);
  }
}

TEST_CASE("every material is found by its name, has a source, and is 1 at 20 degC") {
  std::set<std::string_view> names;
  for (const auto& material : all_materials()) {
    CAPTURE(std::string(material.name));
    CHECK(find_material(material.name) == &material);
    CHECK(names.insert(material.name).second);
    CHECK_FALSE(material.source.empty());
    CHECK(resistance_ratio(material, 20.0) == 1.0);
    for (std::size_t i = 1; i < material.rows.size(); ++i)
      CHECK(material.rows[i].temperature_degC > material.rows[i - 1].temperature_degC);
  }
  for (const char* name :
       {"constant", "nickel-chromium", "iron-chromium-aluminium", "iron-chromium-aluminium-molybdenum",
        "molybdenum-disilicide", "silicon-carbide", "graphite", "tungsten"}) {
    CAPTURE(name);
    CHECK(names.count(name) == 1);
  }
  CHECK(find_material("unobtainium") == nullptr);
  CHECK(find_material("") == nullptr);
}

TEST_CASE("the constant material never changes") {
  for (const double temperature : {-50.0, 20.0, 900.0})
    CHECK(resistance_ratio(*find_material("constant"), temperature) == 1.0);
}

TEST_CASE("no material's resistance comes near zero or jumps") {
  for (const auto& material : all_materials()) {
    CAPTURE(std::string(material.name));
    double before = resistance_ratio(material, -50.0);
    for (double temperature = -49.0; temperature <= 3500.0; temperature += 1.0) {
      CAPTURE(temperature);
      const double now = resistance_ratio(material, temperature);
      REQUIRE(now > 0.3);
      REQUIRE(std::abs(now - before) <= 0.01);
      before = now;
    }
  }
}
