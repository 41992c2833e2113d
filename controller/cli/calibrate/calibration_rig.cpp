#include "controller/cli/calibrate/calibration_rig.hpp"

namespace controller::cli {

using protocol::Result;

namespace {

class Collector final : public host::SampleListener {
 public:
  Result<void> take(const host::TimedSample& sample) override {
    samples.push_back(sample);
    return {};
  }
  std::vector<host::TimedSample> samples;
};

}  // namespace

double counts_of(const host::TimedSample& sample) {
  return sample.load_counts;
}

Result<std::unique_ptr<CalibrationRig>> CalibrationRig::open(const BenchSetup& setup,
                                                             host::StopSource& stop,
                                                             const host::PressLimits& limits) {
  Result<RigConnection> connection = RigConnection::connect(setup.rig, {});
  if (!connection) return connection.error();
  std::unique_ptr<CalibrationRig> rig(new CalibrationRig(std::move(connection).value()));
  host::Session& session = rig->connection_.session();
  if (const auto opened = session.open(); !opened) return opened.error();
  rig->press_ =
      std::make_unique<host::Press>(session, setup.instruments, host::PressSettings(), stop);
  if (const auto ready = rig->press_->prepare(); !ready) return ready.error();
  if (const auto limited = rig->press_->set_limits(limits); !limited) return limited.error();
  return rig;
}

void CalibrationRig::hang_N(double force_N) {
  with_rig([&](virtual_rig::VirtualRig& rig) {
    rig.hang_weight(force_N / protocol::kStandardGravity_m_s2, protocol::kStandardGravity_m_s2);
  });
}

Result<std::vector<calibration::WindowSample>> CalibrationRig::window(
    double duration_s, const std::function<double(const host::TimedSample&)>& reading) {
  Collector collector;
  press_->set_listener(&collector);
  const Result<void> read = press_->rest(duration_s);
  press_->set_listener(nullptr);
  if (!read) return read.error();
  std::vector<calibration::WindowSample> window;
  for (const host::TimedSample& sample : collector.samples) {
    window.push_back({static_cast<double>(sample.time_us) * 1e-6, reading(sample)});
  }
  return window;
}

Result<double> CalibrationRig::mean_counts() {
  if (const auto settled = press_->rest(kCalibrationSettle_s); !settled) return settled.error();
  const auto samples = window(kCalibrationWindow_s, counts_of);
  if (!samples) return samples.error();
  double sum = 0.0;
  for (const calibration::WindowSample& sample : *samples) sum += sample.reading;
  return samples->empty() ? 0.0 : sum / static_cast<double>(samples->size());
}

}  // namespace controller::cli
