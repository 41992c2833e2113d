// What the instrument does beside its curve, on a certificate.
#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "calibration/performance/creep.hpp"
#include "calibration/performance/force_performance.hpp"
#include "calibration/performance/lower_limit.hpp"
#include "calibration/performance/machine_class.hpp"
#include "calibration/performance/travel_performance.hpp"
#include "fitting/report/certificate_numbers.hpp"
#include "fitting/report/certificate_sections.hpp"
#include "fitting/report/numbers.hpp"

namespace fitting {

using calibration::Calibration;
using calibration::ClassVerdict;
using calibration::ForcePerformance;
using calibration::Kind;
using calibration::Quantity7500;
using calibration::QuantityVerdict;

namespace {

constexpr int kPercentDecimals = 3;

std::string percent_text(double percent) {
  return rounded(percent, kPercentDecimals);
}

std::string percent_text(const std::optional<double>& percent) {
  return percent ? percent_text(*percent) : "not measured";
}

std::string quantity_words(Quantity7500 quantity) {
  switch (quantity) {
    case Quantity7500::accuracy_q:
      return "q, accuracy";
    case Quantity7500::repeatability_b:
      return "b, repeatability";
    case Quantity7500::reversibility_v:
      return "v, reversibility";
    case Quantity7500::zero_f0:
      return "f0, return to zero";
    case Quantity7500::resolution_a:
      break;
  }
  return "a, resolution";
}

std::string class_text(double machine_class) {
  return machine_class < 1.0 ? rounded(machine_class, 1) : rounded(machine_class, 0);
}

// "q, b, v and f0": those that were measured.
std::string measured_symbols(const ClassVerdict& verdict) {
  std::vector<std::string_view> symbols;
  for (const QuantityVerdict& each : verdict.quantities) {
    if (each.measured) symbols.push_back(calibration::quantity_symbol(each.quantity));
  }
  return fmt::format("{}", fmt::join(symbols, ", "));
}

std::string class_sentence(const ForcePerformance& performance, const ClassVerdict& verdict) {
  if (!verdict.overall) {
    return "The readings do not meet the limits of any class of ISO 7500-1.";
  }
  std::string text = fmt::format(
      "Meets the limits of class {} of ISO 7500-1 for {}, from {} to {} "
      "N.",
      class_text(*verdict.overall), measured_symbols(verdict), rounded(verdict.from_N, 1),
      rounded(performance.full_scale_N, 1));
  if (!verdict.enough_readings) {
    text +=
        " The standard asks for three series of five loads from 20 to 100 % of full scale; "
        "these are fewer.";
  }
  return text;
}

Table figures_table(const ForcePerformance& performance) {
  Table table{"performance",
              "The cell beside its curve",
              {{"What", ColumnKind::text}, {"% of full scale"}, {"N"}},
              {}};
  const double full_scale_N = performance.full_scale_N;
  const auto add = [&](const char* what, const std::optional<double>& percent) {
    table.rows.push_back(
        {what, percent_text(percent), percent ? shown_small(0.01 * *percent * full_scale_N) : "–"});
  };
  add("Non-linearity, against the line through the ends", performance.non_linearity_percent);
  add("Hysteresis, down less up", performance.hysteresis_percent);
  add("Repeatability, largest spread going up", performance.repeatability_percent);
  add("Return to zero", performance.zero_return_percent);
  return table;
}

Table class_table(const ClassVerdict& verdict) {
  Table table{"limits",
              "Limits of ISO 7500-1, from 20 % of full scale up",
              {{"Quantity", ColumnKind::text},
               {"Worst, %"},
               {"At, N"},
               {"Limits met of class", ColumnKind::text}},
              {}};
  for (const QuantityVerdict& each : verdict.quantities) {
    const bool at_load = each.measured && each.quantity != Quantity7500::zero_f0;
    table.rows.push_back(
        {quantity_words(each.quantity),
         each.measured ? percent_text(each.worst_percent) : "not measured",
         at_load ? rounded(each.at_N, 1) : "–",
         each.class_met ? class_text(*each.class_met) : (each.measured ? "none" : "–")});
  }
  return table;
}

std::string creep_sentence(const Calibration& calibration) {
  if (!calibration.creep) return "Creep was not measured.";
  if (calibration.creep->readings.empty()) return "Creep was not measured.";
  const double slope = calibration::polynomial_slope(calibration.coefficients,
                                                     calibration.creep->readings.front().reading);
  const auto creep = calibration::creep_performance(*calibration.creep, slope);
  if (!creep) return "Creep was not measured.";
  std::string text =
      fmt::format("Creep under {} N: {} N ({} % of the load) in {} min.", rounded(creep->load_N, 1),
                  shown_small(creep->first_to_last_N), percent_text(creep->first_to_last_percent),
                  rounded(creep->lasted_s / 60.0, 1));
  if (creep->intervals_met) {
    text += fmt::format(" That keeps the creep limits of OIML R 60, class C, for {} intervals.",
                        *creep->intervals_met);
  }
  return text;
}

std::string lower_limit_sentence(const Calibration& calibration) {
  const calibration::LowerLimit limit = calibration::lower_limit(calibration);
  return fmt::format(
      "In the manner of ASTM E74: lower limit factor {} N; forces are told to 0.25 % (class A "
      "range) from {} N, to 0.05 % (class AA range) from {} N{}.",
      shown_small(limit.lower_limit_factor_N), shown_small(limit.class_a_from_N, 3),
      shown_small(limit.class_aa_from_N, 3),
      limit.class_aa_from_N > calibration.range_high ? ", which is beyond the calibrated range"
                                                     : "");
}

void add_force(const Calibration& calibration, Section& section) {
  const ForcePerformance performance = calibration::force_performance(calibration);
  const ClassVerdict verdict = calibration::machine_class(performance);
  section.blocks.push_back(figures_table(performance));
  section.blocks.push_back(class_table(verdict));
  section.blocks.push_back(Paragraph{class_sentence(performance, verdict) + " " +
                                     lower_limit_sentence(calibration) + " " +
                                     creep_sentence(calibration)});
}

void add_travel(const Calibration& calibration, Section& section) {
  const calibration::TravelPerformance performance = calibration::travel_performance(calibration);
  Table table{
      "performance", "The screw beside its curve", {{"What", ColumnKind::text}, {"mm"}}, {}};
  const auto add = [&](const char* what, const std::optional<double>& value_m) {
    table.rows.push_back({what, value_m ? shown_small(1e3 * *value_m) : "not measured"});
  };
  table.rows.push_back(
      {"Scale, mm for 1000 steps", shown_small(1e6 * performance.scale_m_per_step, 6)});
  add("Linearity, against the line through the ends", performance.linearity_m);
  add("Backlash, largest", performance.backlash_m);
  if (performance.backlash_up_m) add("Backlash after turning up", performance.backlash_up_m);
  if (performance.backlash_down_m) add("Backlash after turning down", performance.backlash_down_m);
  add("Repeatability, standard deviation from one side", performance.repeatability_m);
  section.blocks.push_back(std::move(table));
}

void add_frame(const Calibration& calibration, Section& section) {
  double force_N = 0.0;
  for (const auto& reading : calibration.readings) force_N = std::max(force_N, reading.reading);
  Table table{"performance",
              "The frame beside its curve",
              {{"What", ColumnKind::text}, {"Value", ColumnKind::text}},
              {}};
  if (force_N > 0.0) {
    table.rows.push_back({fmt::format("Compliance, mean to {} N", rounded(force_N, 0)),
                          shown_small(1e6 * calibration.range_high / force_N, 3) + " mm/kN"});
  }
  table.rows.push_back(
      {"Residual standard deviation",
       shown_small(1e3 * calibration.quality.residual_standard_deviation) + " mm"});
  if (calibration.quality.hysteresis) {
    table.rows.push_back(
        {"Hysteresis, largest", shown_small(1e3 * *calibration.quality.hysteresis) + " mm"});
  }
  section.blocks.push_back(std::move(table));
}

}  // namespace

Section certificate_performance(const Calibration& calibration) {
  Section section{"performance", "Performance", {}};
  switch (calibration.kind) {
    case Kind::force:
      add_force(calibration, section);
      break;
    case Kind::travel:
      add_travel(calibration, section);
      break;
    case Kind::frame:
      add_frame(calibration, section);
      break;
  }
  return section;
}

std::string performance_finding(const Calibration& calibration) {
  if (calibration.kind == Kind::force) {
    const ForcePerformance performance = calibration::force_performance(calibration);
    return class_sentence(performance, calibration::machine_class(performance));
  }
  if (calibration.kind == Kind::travel) {
    const calibration::TravelPerformance performance = calibration::travel_performance(calibration);
    const auto shown = [](const std::optional<double>& value_m) {
      return value_m ? shown_small(1e3 * *value_m) + " mm" : std::string("not measured");
    };
    return fmt::format("Linearity {}; backlash {}.", shown(performance.linearity_m),
                       shown(performance.backlash_m));
  }
  return fmt::format("The frame gives {} mm at the largest force.",
                     shown_small(1e3 * calibration.range_high, 3));
}

}  // namespace fitting
