#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace emberline::plant {

/// Resistance of a heating-element material over temperature, as the ratio R(T)/R(20 degC).
/// Linear between the rows of a published table, held constant beyond its ends. Ageing is no part of it: it
/// multiplies the resistance at every temperature.
struct Material {
  struct Row {
    double temperature_degC;
    double ratio;
  };
  std::string_view name;      ///< the word in a bench file: "nickel-chromium"
  std::string_view source;    ///< where the table was published
  std::span<const Row> rows;  ///< ascending temperatures; empty: constant
};

/// R(T)/R(20 degC).
[[nodiscard]] double resistance_ratio(const Material& material, double temperature_degC);

/// How far R(T) spreads over the whole table: the largest ratio over the smallest one, 1 for constant.
[[nodiscard]] double resistance_spread(const Material& material);

/// The material with this name; null if unknown.
[[nodiscard]] const Material* find_material(std::string_view name);
/// All materials, for messages.
[[nodiscard]] std::span<const Material> all_materials();

}  // namespace emberline::plant
