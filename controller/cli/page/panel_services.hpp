// What the page can ask for, made of what the commands are made of.
//
//   look_up  library            the workshop's records, models and reports
//            forks              the workshop's forks
//            loop               that of the sweep that runs, or ran last
//            certificates       the workshop's calibrations
//            record {file}      one record's loop, thinned for the screen
//            predict, compare   by the commands of those names; the answer is told when it is there
//   act      connect {rig?}  disconnect  home  sweep {fork, pressure, spacers, ...}
//            jog {toward}  hold  let_go      the carriage by hand, while it is held
//            calibrate_force, calibrate_travel, calibrate_frame, calibrate_check
//                               by the commands of those names, which converse
//            answer {question, yes}  write {line}   to whoever asks
//            fit, report        by the commands of those names
#pragma once

#include <filesystem>

#include "controller/cli/page/panel_bench.hpp"
#include "controller/cli/page/panel_desk.hpp"
#include "controller/panel/services.hpp"

namespace controller::cli {

class PanelServices final : public panel::Services {
 public:
  // `workshop` is the folder that the program was started in.
  PanelServices(std::filesystem::path workshop, BenchOptions bench,
                std::vector<virtual_rig::Fault> virtual_faults, PanelBench::Publish publish);

  protocol::Json state() override;
  protocol::Result<protocol::Json> look_up(const std::string& what,
                                           const protocol::Json& how) override;
  protocol::Result<protocol::Json> act(const std::string& what, const protocol::Json& how) override;
  protocol::Result<std::string> document(const std::string& name) override;
  void stop() override { bench_.stop(); }
  void operator_lost() override;

 private:
  protocol::Result<protocol::Json> put_on_desk(const std::string& what, const protocol::Json& how);
  protocol::Result<protocol::Json> forks() const;
  protocol::Result<protocol::Json> certificates() const;
  protocol::Json listed(const std::string& folder, const std::string& ending,
                        void (*describe)(const std::filesystem::path& path,
                                         protocol::Json& item)) const;
  protocol::Result<protocol::Json> record(const protocol::Json& how) const;
  protocol::Result<void> connect(const protocol::Json& how);
  protocol::Result<void> jog(const protocol::Json& how);
  protocol::Result<void> answer(const protocol::Json& how);
  protocol::Result<void> write(const protocol::Json& how);
  protocol::Result<void> converse(const std::string& what, const protocol::Json& how);
  protocol::Result<void> sweep(const protocol::Json& how);
  std::filesystem::path workshop_;
  BenchOptions options_;
  std::vector<virtual_rig::Fault> virtual_faults_;
  PanelBench bench_;
  PanelDesk desk_;
};

}  // namespace controller::cli
