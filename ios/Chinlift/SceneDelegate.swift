import UIKit

/// The window, and what happens to the companion as it comes and goes.
final class SceneDelegate: UIResponder, UIWindowSceneDelegate {
    var window: UIWindow?
    private var cover: UIView?

    private var companion: Companion? {
        (UIApplication.shared.delegate as? AppDelegate)?.companion
    }

    func scene(
        _ scene: UIScene,
        willConnectTo session: UISceneSession,
        options connectionOptions: UIScene.ConnectionOptions
    ) {
        guard let scene = scene as? UIWindowScene, let companion = companion else { return }
        let window = UIWindow(windowScene: scene)
        window.rootViewController = ScreenController(companion: companion)
        window.makeKeyAndVisible()
        self.window = window
    }

    func sceneWillEnterForeground(_ scene: UIScene) {
        companion?.resume()
    }

    func sceneDidBecomeActive(_ scene: UIScene) {
        cover?.removeFromSuperview()
        cover = nil
    }

    /// The system takes its picture for the list of recent apps when this
    /// returns: by then nothing of a patient may be on the screen. Under a
    /// banner or a call the table stays in sight.
    func sceneDidEnterBackground(_ scene: UIScene) {
        if let window = window, cover == nil {
            let blank = UIView(frame: window.bounds)
            blank.backgroundColor = ScreenController.ground
            blank.autoresizingMask = [.flexibleWidth, .flexibleHeight]
            window.addSubview(blank)
            cover = blank
        }
        companion?.suspend()
    }
}
