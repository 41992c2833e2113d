#include "fitting/report/simulated_loop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "fitting/model/follow.hpp"
#include "fitting/model/path.hpp"
#include "protocol/units.hpp"

namespace fitting {
namespace {

using protocol::Errc;
using protocol::Error;
using protocol::Result;

constexpr double kAroundPort_m = 0.008;  // where the path keeps its cells small

LawParameters<double> law_of_sweep(const FittedModel& model, const std::string& record_id) {
  LawParameters<double> law = model.law_values;
  for (const auto& parameter : model.parameters) {
    if (parameter.name == kLawParameters[kFillError].name && parameter.sweep == record_id) {
      law[kFillError] = parameter.value * kLawParameters[kFillError].unit_SI;
    }
  }
  return law;
}

// The nodes of one stroke and the forces on them, along the way that the stroke goes.
struct StrokeCurve {
  std::vector<double> way_m;
  std::vector<double> force_N;

  double at(double wanted_m) const {
    if (way_m.empty()) return std::numeric_limits<double>::quiet_NaN();
    const auto above = std::upper_bound(way_m.begin(), way_m.end(), wanted_m);
    if (above == way_m.begin()) return force_N.front();
    if (above == way_m.end()) return force_N.back();
    const auto i = static_cast<std::size_t>(above - way_m.begin());
    const double share = (wanted_m - way_m[i - 1]) / (way_m[i] - way_m[i - 1]);
    return force_N[i - 1] + share * (force_N[i] - force_N[i - 1]);
  }
};

std::vector<StrokeCurve> stroke_curves(const Path& path, const std::vector<double>& force_N) {
  std::vector<StrokeCurve> curves(static_cast<std::size_t>(path.strokes));
  for (std::size_t i = 0; i < path.nodes.size(); ++i) {
    const PathNode& node = path.nodes[i];
    StrokeCurve& curve = curves[static_cast<std::size_t>(node.stroke)];
    // Each stroke starts from where the one before it turned.
    if (curve.way_m.empty() && i > 0) {
      curve.way_m.push_back(node.direction * path.nodes[i - 1].travel_m);
      curve.force_N.push_back(force_N[i - 1]);
    }
    curve.way_m.push_back(node.direction * node.travel_m);
    curve.force_N.push_back(force_N[i]);
  }
  return curves;
}

}  // namespace

Result<std::vector<double>> simulated_force_N(const FittedModel& model,
                                              const protocol::SweepRecord& record) {
  const auto& setting = record.metadata.setting;
  const LawParameters<double> law = law_of_sweep(model, record.metadata.record_id);
  const Result<Path> path = make_path(record, law[kTransferTravel] + kAroundPort_m);
  if (!path) return path.error();
  const Result<std::vector<Stroke>> strokes = split_strokes(record);
  if (!strokes) return strokes.error();
  const SweepModel sweep{model.law, make_geometry(model.fork), make_circumstances(setting),
                         model.reference, setting.start};
  const std::vector<double> force_N = follow(sweep, law, *path);
  if (force_N.size() != path->nodes.size()) {
    return Error{
        Errc::input_out_of_range,
        fmt::format("the model of '{}' has no air left at {:.1f} mm with {} spacers, where "
                    "the record {} went; give the records that belong to the model",
                    model.fork.name, 1e3 * path->largest_travel_m, setting.spacers,
                    record.metadata.record_id)};
  }
  const std::vector<StrokeCurve> curves = stroke_curves(*path, force_N);
  std::vector<double> simulated_N(record.size(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t k = 0; k < strokes->size() && k < curves.size(); ++k) {
    const Stroke& stroke = (*strokes)[k];
    for (std::size_t row = stroke.first_row; row < stroke.last_row; ++row) {
      simulated_N[row] = curves[k].at(stroke.direction * record.travel_m[row]);
    }
  }
  return simulated_N;
}

}  // namespace fitting
