// Two forks compared: as tested (or as set), at matched sag, and what a setting can and cannot do.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "fitting/compare/by_share.hpp"
#include "fitting/compare/contributions.hpp"
#include "fitting/compare/matched_sag.hpp"
#include "fitting/compare/nearest_setting.hpp"

namespace fitting {

struct CompareOptions {
  SagOptions sag;
  DifferenceOptions difference;
  NearestOptions nearest;
};

struct Comparison {
  Side a;
  Side b;
  bool a_is_record = false;
  bool b_is_record = false;
  Difference difference;  // as tested or as set
  Crossings crossings;
  std::vector<Span> spans;
  std::vector<Span> thirds;
  std::optional<Contributions> contributions;  // of two models
  MatchedSag matched_sag;
  // Of forks that differ in travel; the second at matched sag.
  std::optional<ComparedByShare> by_share;
  std::optional<ComparedByShare> matched_by_share;
  std::optional<NearestSetting> nearest;  // of B towards A; only if both are models
  std::vector<std::string> remarks;
};

// REQUIRES: each subject is a record or a model. ERRORS: of the prediction at the settings asked
// for, of curves without common travel, of a rider who cannot be.
protocol::Result<Comparison> compare(const Subject& a, const Subject& b,
                                     const CompareOptions& options = {});

}  // namespace fitting
